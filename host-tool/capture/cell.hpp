// The reference cell's read-out on a serial line of its own: lines of text, "force_n <integer>", in N, about
// ten a second. Our own format (sim/README.md); the simulated rig prints it.
#pragma once

#include <cstddef>
#include <cstdint>
#include <deque>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace strandproof::host::capture {

// Bytes to values. A first line that was cut, and any line that is not of this form, is dropped and counted.
class CellText {
 public:
  // Values of the whole lines in these bytes. Bounds: 80 letters a line, +-100 MN.
  std::vector<double> feed(std::string_view bytes);
  [[nodiscard]] std::size_t garbage() const { return garbage_; }  // lines, the first one not counted
  void line_lost();                                               // the next line may be cut

 private:
  std::string pending_;
  bool in_step_ = false;  // a line end has been seen
  std::size_t garbage_ = 0;
};

// Whether the cell's values stand still, and at what.
class CellWatch {
 public:
  void add(double force_n);
  void clear() { values_.clear(); }  // what comes from now on counts
  [[nodiscard]] std::size_t count() const { return values_.size(); }
  // Mean of the last ten values if they lie within spread_n of one another.
  [[nodiscard]] std::optional<double> steady(double spread_n) const;
  [[nodiscard]] double spread() const;  // of the last ten, N
  static constexpr std::size_t window = 10;

 private:
  std::deque<double> values_;
};

}  // namespace strandproof::host::capture
