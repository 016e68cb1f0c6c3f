#include <array>
#include <charconv>
#include <cstring>
#include <nlohmann/json.hpp>

#include "sim/bench/names.hpp"
#include "sim/bench/trace_columns.hpp"
#include "sim/bench/trace_file.hpp"

namespace strandproof::sim {
namespace {

// One line, built without the locale.
class Line {
 public:
  void number(double value) { finish(std::to_chars(at(), limit(), value).ptr); }
  void fixed(double value, int decimals) {
    finish(std::to_chars(at(), limit(), value, std::chars_format::fixed, decimals).ptr);
  }
  void integer(unsigned value) { finish(std::to_chars(at(), limit(), value).ptr); }
  void text(std::string_view value) {
    std::memcpy(at(), value.data(), value.size());
    finish(at() + value.size());
  }
  std::string_view end() {
    text_[size_ - 1] = '\n';
    return {text_.data(), size_};
  }

 private:
  char* at() { return text_.data() + size_; }
  char* limit() { return text_.data() + text_.size() - 1; }
  void finish(char* end) {
    *end = ',';
    size_ = static_cast<std::size_t>(end - text_.data()) + 1;
  }
  std::array<char, 640> text_;
  std::size_t size_ = 0;
};

constexpr std::string_view time_name = "time_s";
constexpr std::string_view state_column = "state";  // its name stands behind it

class CsvFile final : public TraceFile {
 public:
  CsvFile(const std::string& path, const TraceNote& note) : file_{path}, note_{note} {
    std::string header{time_name};
    for (const TraceColumn& c : trace_columns()) {
      header += "," + std::string(c.name) + (c.name == state_column ? ",state_name" : "");
    }
    file_.write(header + "\n");
  }

  void row(const Moment& m) override {
    Line line;
    line.fixed(m.time_s, 3);
    for (const TraceColumn& c : trace_columns()) {
      if (c.real != nullptr) {
        line.number(c.real(m));
      } else {
        line.integer(c.whole(m));
      }
      if (c.name == state_column) {
        line.text(state_name(m.answer.state));
      }
    }
    file_.write(line.end());
    ++rows_;
  }

  void close() override {
    file_.close();
    OutFile beside(file_.path() + ".json");
    beside.write(sidecar().dump(2) + "\n");
    beside.close();
  }

 private:
  using Json = nlohmann::ordered_json;

  [[nodiscard]] Json sidecar() const {
    Json columns = Json::array();
    columns.push_back({{"name", time_name}, {"unit", "s"}, {"meaning", "from the start of the run"}});
    for (const TraceColumn& c : trace_columns()) {
      Json one{{"name", c.name}, {"unit", c.unit}, {"meaning", c.meaning}};
      if (!c.names.empty()) {
        one["bits"] = c.names;
      }
      columns.push_back(one);
      if (c.name == state_column) {
        columns.push_back({{"name", "state_name"}, {"unit", "text"}, {"meaning", "the same in words"}});
      }
    }
    return {{"origin", "simulated"},
            {"caution", "plant values are assumed, not measured on a jack"},
            {"scenario", note_.scenario},
            {"seed", note_.seed},
            {"rows", rows_},
            {"tick_s", 1e-3},
            {"columns", columns}};
  }

  OutFile file_;
  TraceNote note_;
  std::uint64_t rows_ = 0;
};

}  // namespace

std::unique_ptr<TraceFile> open_trace_csv(const std::string& path, const TraceNote& note) {
  return std::make_unique<CsvFile>(path, note);
}

}  // namespace strandproof::sim
