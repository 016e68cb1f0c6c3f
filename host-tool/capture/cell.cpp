#include "host-tool/capture/cell.hpp"

#include <algorithm>
#include <charconv>

namespace strandproof::host::capture {
namespace {

constexpr std::string_view word = "force_n ";
constexpr std::size_t line_max = 80;
constexpr int force_max = 100'000'000;

std::optional<double> value(std::string_view line) {
  if (!line.empty() && line.back() == '\r') line.remove_suffix(1);
  if (!line.starts_with(word)) return std::nullopt;
  line.remove_prefix(word.size());
  int force = 0;
  const auto [stop, error] = std::from_chars(line.data(), line.data() + line.size(), force);
  const bool whole = error == std::errc{} && stop == line.data() + line.size();
  if (!whole || force > force_max || force < -force_max) return std::nullopt;
  return force;
}

}  // namespace

std::vector<double> CellText::feed(std::string_view bytes) {
  std::vector<double> values;
  pending_ += bytes;
  std::size_t end = 0;
  while ((end = pending_.find('\n')) != std::string::npos) {
    const auto read = value(std::string_view{pending_}.substr(0, end));
    if (in_step_ && read) values.push_back(*read);
    if (in_step_ && !read) ++garbage_;
    in_step_ = true;
    pending_.erase(0, end + 1);
  }
  if (pending_.size() > line_max) {
    pending_.clear();
    ++garbage_;
    in_step_ = false;  // what follows is the rest of that line
  }
  return values;
}

void CellText::line_lost() {
  pending_.clear();
  in_step_ = false;
}

void CellWatch::add(double force_n) {
  values_.push_back(force_n);
  if (values_.size() > window) values_.pop_front();
}

double CellWatch::spread() const {
  if (values_.empty()) return 0.0;
  const auto [low, high] = std::minmax_element(values_.begin(), values_.end());
  return *high - *low;
}

std::optional<double> CellWatch::steady(double spread_n) const {
  if (values_.size() < window || spread() > spread_n) return std::nullopt;
  double sum = 0.0;
  for (const double v : values_) sum += v;
  return sum / static_cast<double>(values_.size());
}

}  // namespace strandproof::host::capture
