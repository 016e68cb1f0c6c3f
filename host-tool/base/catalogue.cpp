#include "host-tool/base/catalogue.hpp"

#include <fmt/core.h>

#include <array>
#include <string_view>

namespace strandproof::host::texts {
namespace {

struct Entry {
  std::uint32_t number;
  std::string_view text, remedy;
};

constexpr Entry states[] = {
#define STATE(number, id, text) {number, text, ""},
#include "proto/catalogue.def"
};
constexpr Entry loads[] = {
#define LOAD(number, id, text) {number, text, ""},
#include "proto/catalogue.def"
};
constexpr Entry causes[] = {
#define CAUSE(number, id, what, remedy) {number, what, remedy},
#include "proto/catalogue.def"
};
constexpr Entry verdicts[] = {
#define VERDICT(number, id, text) {number, text, ""},
#include "proto/catalogue.def"
};
constexpr Entry refusals[] = {
#define REFUSAL(number, id, why, remedy) {number, why, remedy},
#include "proto/catalogue.def"
};
constexpr Entry events[] = {
#define EVENT(number, id, text, detail) {number, text, detail},
#include "proto/catalogue.def"
};

constexpr Entry table_states[] = {
#define TABLE(number, id, text) {number, text, ""},
#include "proto/catalogue.def"
};
constexpr Entry parts[] = {
#define PART(number, id, text) {number, text, ""},
#include "proto/catalogue.def"
};
constexpr Entry bed_entries[] = {
#define ENTRY(number, id, text) {number, text, ""},
#include "proto/catalogue.def"
};
constexpr Entry messages[] = {
#define MESSAGE(number, id, text) {number, text, ""},
#include "proto/catalogue.def"
};
constexpr Entry reasons[] = {
#define REASON(number, id, text) {number, text, ""},
#include "proto/catalogue.def"
};

template <std::size_t N>
const Entry* find(const Entry (&entries)[N], std::uint32_t number) {
  for (const Entry& e : entries) {
    if (e.number == number) return &e;
  }
  return nullptr;
}

template <std::size_t N>
std::string text(const Entry (&entries)[N], std::uint32_t number) {
  const Entry* e = find(entries, number);
  return e != nullptr ? std::string{e->text} : fmt::format("number {} (of a newer jack)", number);
}

}  // namespace

std::string state(std::uint32_t number) {
  return text(states, number);
}
std::string load(std::uint32_t number) {
  return text(loads, number);
}
std::string cause(std::uint32_t number) {
  return text(causes, number);
}
std::string verdict(std::uint32_t number) {
  return text(verdicts, number);
}
std::string event(std::uint32_t number) {
  return text(events, number);
}

std::string table_state(std::uint32_t number) {
  return text(table_states, number);
}
std::string part(std::uint32_t number) {
  return text(parts, number);
}
std::string entry(std::uint32_t number) {
  return text(bed_entries, number);
}
std::string message(std::uint32_t number) {
  return text(messages, number);
}

std::string reason(std::uint32_t number) {
  return text(reasons, number);
}

std::string event_detail(std::uint32_t number) {
  const Entry* e = find(events, number);
  return std::string{e != nullptr ? e->remedy.substr(0, e->remedy.find(';')) : ""};
}

std::string remedy(std::uint32_t cause) {
  const Entry* e = find(causes, cause);
  return e != nullptr ? std::string{e->remedy} : std::string{};
}

std::string refusal(std::uint32_t number) {
  const Entry* e = find(refusals, number);
  return e != nullptr ? fmt::format("{}: {}", e->text, e->remedy) : text(refusals, number);
}

std::string origin(std::uint32_t number) {
  constexpr std::array<std::string_view, 4> names{"unknown", "SIMULATED", "SIMULATED (emulated board)",
                                                  "hardware"};
  return std::string{names[number < names.size() ? number : 0]};
}

std::string clock_quality(std::uint32_t number) {
  constexpr std::array<std::string_view, 4> names{"good", "set by host", "lost", "went back"};
  return number < names.size() ? std::string{names[number]} : fmt::format("number {}", number);
}

}  // namespace strandproof::host::texts
