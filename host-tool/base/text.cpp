#include "host-tool/base/text.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <chrono>
#include <vector>

namespace strandproof::host {
namespace {

// Reads exactly width digits at from; -1 if they are not all digits.
int digits(std::string_view text, std::size_t from, std::size_t width) {
  if (from + width > text.size()) return -1;
  int value = 0;
  for (const char c : text.substr(from, width)) {
    if (c < '0' || c > '9') return -1;
    value = value * 10 + (c - '0');
  }
  return value;
}

// "Z", "+hh:mm" or "-hh:mm" in minutes east of Greenwich.
std::optional<int> offset_minutes(std::string_view text) {
  if (text == "Z") return 0;
  if (text.size() != 6 || (text[0] != '+' && text[0] != '-') || text[3] != ':') return std::nullopt;
  const int hours = digits(text, 1, 2);
  const int minutes = digits(text, 4, 2);
  if (hours < 0 || hours > 14 || minutes < 0 || minutes > 59) return std::nullopt;
  const int total = hours * 60 + minutes;
  return text[0] == '-' ? -total : total;
}

int hex_digit(char c) {
  if (c >= '0' && c <= '9') return c - '0';
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  if (c >= 'A' && c <= 'F') return c - 'A' + 10;
  return -1;
}

}  // namespace

std::optional<std::int64_t> parse_time(std::string_view text) {
  using namespace std::chrono;
  if (text.size() < 20 || text[4] != '-' || text[7] != '-' || text[10] != 'T' || text[13] != ':' ||
      text[16] != ':') {
    return std::nullopt;
  }
  const year_month_day date{year{digits(text, 0, 4)}, month{static_cast<unsigned>(digits(text, 5, 2))},
                            day{static_cast<unsigned>(digits(text, 8, 2))}};
  const int hour = digits(text, 11, 2);
  const int minute = digits(text, 14, 2);
  const int second = digits(text, 17, 2);
  const auto offset = offset_minutes(text.substr(19));
  const bool good = digits(text, 0, 4) >= 1970 && date.ok() && hour >= 0 && hour <= 23 && minute >= 0 &&
                    minute <= 59 && second >= 0 && second <= 59 && offset;
  if (!good) return std::nullopt;
  const auto days_s = duration_cast<seconds>(sys_days{date}.time_since_epoch()).count();
  return days_s + hour * 3600 + (minute - *offset) * 60 + second;
}

std::string format_time(std::int64_t utc_s) {
  using namespace std::chrono;
  const sys_seconds time{seconds{utc_s}};
  const auto day_start = floor<days>(time);
  const year_month_day date{day_start};
  const auto in_day = (time - day_start).count();
  return fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}Z", static_cast<int>(date.year()),
                     static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()), in_day / 3600,
                     in_day / 60 % 60, in_day % 60);
}

std::string shown(std::string_view text, std::size_t longest) {
  std::string out{text.substr(0, longest)};
  for (char& c : out) {
    if (c < ' ' || c > '~') c = '?';
  }
  if (text.size() > longest) out += "...";
  return out;
}

std::size_t edit_distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> row(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) row[j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t substituted = diagonal + (a[i - 1] == b[j - 1] ? 0 : 1);
      diagonal = row[j];
      row[j] = std::min({row[j] + 1, row[j - 1] + 1, substituted});
    }
  }
  return row[b.size()];
}

std::string to_hex(std::string_view bytes) {
  constexpr char digits[] = "0123456789abcdef";
  std::string out(2 * bytes.size(), '0');
  for (std::size_t i = 0; i < bytes.size(); ++i) {
    const auto byte = static_cast<unsigned char>(bytes[i]);
    out[2 * i] = digits[byte >> 4U];
    out[2 * i + 1] = digits[byte & 0xFU];
  }
  return out;
}

std::optional<std::string> from_hex(std::string_view hex) {
  if (hex.size() % 2 != 0) return std::nullopt;
  std::string out;
  out.reserve(hex.size() / 2);
  for (std::size_t i = 0; i < hex.size(); i += 2) {
    const int high = hex_digit(hex[i]);
    const int low = hex_digit(hex[i + 1]);
    if (high < 0 || low < 0) return std::nullopt;
    out.push_back(static_cast<char>(high * 16 + low));
  }
  return out;
}

std::string counted(std::int64_t n, std::string_view one) {
  return fmt::format("{} {}{}", n, one, n == 1 ? "" : "s");
}

}  // namespace strandproof::host
