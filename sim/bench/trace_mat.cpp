// Level 5 MAT-file as its published description has it: a header of 128 bytes, then elements of a tag of 8
// bytes (type, length) and data padded to 8. Little-endian, as the machines that this runs on.
#include <algorithm>
#include <bit>
#include <vector>

#include "sim/bench/names.hpp"
#include "sim/bench/trace_columns.hpp"
#include "sim/bench/trace_file.hpp"

namespace strandproof::sim {
namespace {

static_assert(std::endian::native == std::endian::little);

enum Type : std::uint32_t { int8 = 1, uint16 = 4, int32 = 5, uint32 = 6, real64 = 9, matrix = 14 };
enum Class : std::uint32_t { char_class = 4, double_class = 6, uint16_class = 11 };

constexpr std::size_t longest = 900'000'000;  // bytes of a variable: its length is a signed 32-bit number

template <class Value>
void append(std::string& to, const Value* values, std::size_t count) {
  to.append(reinterpret_cast<const char*>(values), count * sizeof(Value));
}

template <class Value>
void element(std::string& to, Type type, const Value* values, std::size_t count) {
  const std::uint32_t tag[2] = {type, static_cast<std::uint32_t>(count * sizeof(Value))};
  append(to, tag, 2);
  append(to, values, count);
  to.append((8 - to.size() % 8) % 8, '\0');
}

template <class Value>
std::string variable(std::string_view name, Class kind, Type type, const std::vector<Value>& values,
                     std::int32_t rows, std::int32_t columns) {
  std::string body;
  const std::uint32_t flags[2] = {kind, 0};
  const std::int32_t size[2] = {rows, columns};
  element(body, uint32, flags, 2);
  element(body, int32, size, 2);
  element(body, int8, name.data(), name.size());
  element(body, type, values.data(), values.size());
  std::string whole;
  element(whole, matrix, body.data(), body.size());
  return whole;
}

// Column by column, as the format holds a matrix; row n + 1 is state n, filled with blanks.
std::string state_names_variable() {
  std::size_t width = 0;
  std::size_t rows = 0;
  for (const std::string_view name : state_names()) {
    width = std::max(width, name.size());
    rows = std::max<std::size_t>(rows, *state_number(name) + 1U);
  }
  std::vector<std::uint16_t> letters(rows * width, ' ');
  for (const std::string_view name : state_names()) {
    for (std::size_t i = 0; i < name.size(); ++i) {
      letters[i * rows + *state_number(name)] = static_cast<unsigned char>(name[i]);
    }
  }
  return variable("state_names", char_class, uint16, letters, static_cast<std::int32_t>(rows),
                  static_cast<std::int32_t>(width));
}

class MatFile final : public TraceFile {
 public:
  MatFile(const std::string& path, const TraceNote& note) : file_{path} {
    std::string head = "MATLAB 5.0 MAT-file, SIMULATED, scenario " + note.scenario + ", seed " +
                       std::to_string(note.seed) + ", plant values are assumed";
    head.resize(116, ' ');
    head.append(8, '\0');
    head += {'\0', '\1', 'I', 'M'};  // version 1.0, and in which order the bytes stand
    file_.write(head);
  }

  void row(const Moment& m) override {
    time_.push_back(m.time_s);
    std::size_t real = 0;
    std::size_t whole = 0;
    for (const TraceColumn& c : trace_columns()) {
      if (c.real != nullptr) {
        reals_[real++].push_back(c.real(m));
      } else {
        wholes_[whole++].push_back(static_cast<std::uint16_t>(c.whole(m)));
      }
    }
  }

  void close() override {
    if (time_.size() * sizeof(double) > longest) {
      throw std::runtime_error(file_.path() + ": too many rows for this format; write .csv");
    }
    const auto rows = static_cast<std::int32_t>(time_.size());
    file_.write(variable("time_s", double_class, real64, time_, rows, 1));
    std::size_t real = 0;
    std::size_t whole = 0;
    for (const TraceColumn& c : trace_columns()) {
      file_.write(c.real != nullptr ? variable(c.name, double_class, real64, reals_[real++], rows, 1)
                                    : variable(c.name, uint16_class, uint16, wholes_[whole++], rows, 1));
    }
    file_.write(state_names_variable());
    file_.close();
  }

 private:
  OutFile file_;
  std::vector<double> time_;
  std::vector<std::vector<double>> reals_ = std::vector<std::vector<double>>(trace_columns().size());
  std::vector<std::vector<std::uint16_t>> wholes_ =
      std::vector<std::vector<std::uint16_t>>(trace_columns().size());
};

}  // namespace

std::unique_ptr<TraceFile> open_trace_mat(const std::string& path, const TraceNote& note) {
  return std::make_unique<MatFile>(path, note);
}

}  // namespace strandproof::sim
