#include "sim/campaign/distribution.hpp"

#include <algorithm>

#include "sim/bench/unit_text.hpp"
#include "sim/board/noise.hpp"

namespace strandproof::sim {
namespace {

constexpr double two_to_32 = 4294967296.0;
constexpr double reach = 6.0;  // deviations; the table of normals ends at 6.2

std::string_view trimmed(std::string_view text) {
  const auto first = text.find_first_not_of(' ');
  return first == std::string_view::npos ? std::string_view()
                                         : text.substr(first, text.find_last_not_of(' ') + 1 - first);
}

[[noreturn]] void fail(std::string_view text, const char* remedy) {
  throw UnitError("\"" + std::string(text) + "\" " + remedy);
}

// The two values around a word.
std::pair<double, double> two(std::string_view text, std::string_view word, const ReadValue& read) {
  const auto at = text.find(word);
  if (at == std::string_view::npos) {
    throw UnitError("\"" + std::string(text) + "\" has no \"" + std::string(trimmed(word)) +
                    "\"; write two values with it between them");
  }
  return {read(trimmed(text.substr(0, at))), read(trimmed(text.substr(at + word.size())))};
}

Distribution parse_list(std::string_view text, const ReadValue& read) {
  Distribution d{Shape::one_of, {}};
  while (true) {
    const auto comma = text.find(',');
    d.values.push_back(read(trimmed(text.substr(0, comma))));
    if (comma == std::string_view::npos) {
      return d;
    }
    text.remove_prefix(comma + 1);
  }
}

}  // namespace

double Distribution::at(double u) const {
  switch (shape) {
    case Shape::uniform:
      return values[0] + (values[1] - values[0]) * u;
    case Shape::normal:
      return values[0] +
             values[1] * static_cast<double>(normal_quantile(static_cast<std::uint32_t>(u * two_to_32)));
    case Shape::one_of:
      break;
  }
  const auto n = static_cast<double>(values.size());
  return values[std::min(values.size() - 1, static_cast<std::size_t>(u * n))];
}

double Distribution::low() const {
  return shape == Shape::normal ? values[0] - reach * values[1]
                                : *std::min_element(values.begin(), values.end());
}

double Distribution::high() const {
  return shape == Shape::normal ? values[0] + reach * values[1]
                                : *std::max_element(values.begin(), values.end());
}

Distribution parse_distribution(std::string_view text, const ReadValue& read) {
  const std::string_view words = trimmed(text);
  if (words.starts_with("uniform ")) {
    const auto [low, high] = two(words.substr(8), " to ", read);
    if (!(high > low)) {
      fail(text, "does not rise; write the smaller value first");
    }
    return {Shape::uniform, {low, high}};
  }
  if (words.starts_with("normal ")) {
    const auto [mean, deviation] = two(words.substr(7), " sd ", read);
    if (!(deviation > 0.0)) {
      fail(text, "has no spread; write a standard deviation above zero behind \"sd\"");
    }
    return {Shape::normal, {mean, deviation}};
  }
  if (words.starts_with("one of ")) {
    return parse_list(words.substr(7), read);
  }
  fail(text,
       "is no distribution; write \"uniform A to B\", \"normal A sd B\" or \"one of A, B, C\", each value "
       "with its unit");
}

std::vector<double> parse_steps(std::string_view text, const ReadValue& read) {
  const auto at = text.rfind(" in ");
  if (at == std::string_view::npos) {
    fail(text, "is no sweep; write \"100 kN to 130 kN in 4\"");
  }
  const auto [low, high] = two(text.substr(0, at), " to ", read);
  const double count = parse_number(trimmed(text.substr(at + 4)));
  if (!(count >= 2.0 && count <= 1000.0) || count != static_cast<double>(static_cast<int>(count))) {
    fail(text, "takes a whole number of values from 2 to 1000 behind \"in\"");
  }
  std::vector<double> steps;
  for (double i = 0.0; i < count; i += 1.0) {
    steps.push_back(low + (high - low) * (i / (count - 1.0)));
  }
  return steps;
}

}  // namespace strandproof::sim
