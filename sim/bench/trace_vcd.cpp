#include <array>
#include <bit>
#include <charconv>
#include <optional>
#include <vector>

#include "sim/bench/names.hpp"
#include "sim/bench/trace_columns.hpp"
#include "sim/bench/trace_file.hpp"

namespace strandproof::sim {
namespace {

// The identifier of the n-th signal: printable letters from '!' to '~', the lowest digit first.
std::string identifier(std::size_t n) {
  constexpr std::size_t letters = '~' - '!' + 1;
  std::string id;
  do {
    id += static_cast<char>('!' + static_cast<char>(n % letters));
    n /= letters;
  } while (n > 0);
  return id;
}

// A comment ends at the next $end, so none may stand in it.
std::string harmless(std::string text) {
  for (char& letter : text) {
    letter = letter == '$' ? '_' : letter;
  }
  return text;
}

class VcdFile final : public TraceFile {
 public:
  VcdFile(const std::string& path, const TraceNote& note) : file_{path} {
    std::string head = "$comment SIMULATED; scenario " + harmless(note.scenario) + ", seed " +
                       std::to_string(note.seed) + "; plant values are assumed $end\n$comment states:";
    for (const std::string_view name : state_names()) {
      head += " " + std::to_string(*state_number(name)) + " " + std::string(name);
    }
    head += " $end\n$timescale 1 ms $end\n$scope module jack $end\n";
    for (const TraceColumn& c : trace_columns()) {
      declare(c, head);
    }
    file_.write(head + "$upscope $end\n$enddefinitions $end\n");
  }

  void row(const Moment& m) override {
    changes_.clear();
    std::size_t signal = 0;
    for (const TraceColumn& c : trace_columns()) {
      if (c.real != nullptr) {
        put(signal++, std::bit_cast<std::uint64_t>(c.real(m)), [&] { return real_text(c.real(m)); });
        continue;
      }
      const unsigned value = c.whole(m);
      if (c.names.empty()) {
        put(signal++, value, [&] { return vector_text(value); });
        continue;
      }
      for (std::size_t i = 0; i < c.names.size(); ++i) {
        const unsigned on = value >> i & 1U;
        put(signal++, on, [&] { return std::string(on != 0 ? "1" : "0"); });
      }
    }
    if (!changes_.empty()) {
      file_.write("#" + std::to_string(ticks_) + "\n" + changes_);
    }
    ++ticks_;
  }

  void close() override {
    file_.write("#" + std::to_string(ticks_) + "\n");  // the last value holds for its tick
    file_.close();
  }

 private:
  void declare(const TraceColumn& c, std::string& head) {
    const auto variable = [&](std::string_view kind, unsigned width, std::string_view name) {
      head += "$var " + std::string(kind) + " " + std::to_string(width) + " " + identifier(before_.size()) +
              " " + std::string(name) + " $end\n";
      before_.emplace_back();
    };
    if (c.real != nullptr) {
      variable("real", 64, c.name);
    } else if (c.names.empty()) {
      variable("wire", c.bits, c.name);
    } else {
      head += "$scope module " + std::string(c.name) + " $end\n";
      for (const std::string_view name : c.names) {
        variable("wire", 1, name);
      }
      head += "$upscope $end\n";
    }
  }

  template <class Text>
  void put(std::size_t signal, std::uint64_t value, Text&& text) {
    if (before_[signal] != value) {
      before_[signal] = value;
      changes_ += text() + identifier(signal) + "\n";
    }
  }
  static std::string real_text(double value) {
    std::array<char, 32> letters{};
    const auto end = std::to_chars(letters.data(), letters.data() + letters.size(), value).ptr;
    return "r" + std::string(letters.data(), end) + " ";
  }
  static std::string vector_text(unsigned value) {
    std::string text = "b";
    for (unsigned left = value == 0 ? 1U : std::bit_floor(value); left > 0; left >>= 1U) {
      text += (value & left) != 0 ? '1' : '0';
    }
    return text + " ";
  }

  OutFile file_;
  std::vector<std::optional<std::uint64_t>> before_;  // of each signal, as bits; none before the first tick
  std::string changes_;
  std::uint64_t ticks_ = 0;
};

}  // namespace

std::unique_ptr<TraceFile> open_trace_vcd(const std::string& path, const TraceNote& note) {
  return std::make_unique<VcdFile>(path, note);
}

}  // namespace strandproof::sim
