#include "host-tool/fetch/copies.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "host-tool/base/text.hpp"

namespace strandproof::host::fetch {
namespace {

constexpr std::size_t name_max = 23;

// As the pendant shows it before a copy is forgotten.
std::string id_text(std::uint64_t id) {
  return fmt::format("{:04x} {:04x} {:04x} {:04x}", id >> 48U, (id >> 32U) & 0xFFFFU, (id >> 16U) & 0xFFFFU,
                     id & 0xFFFFU);
}

}  // namespace

std::string copy_line(const wire::LogCopy& copy, std::uint64_t last_record) {
  const std::uint64_t behind = last_record - std::min(last_record, copy.up_to());
  return fmt::format("{} ({}) holds up to record {}{}", shown(copy.name(), name_max), id_text(copy.id()),
                     copy.up_to(), behind == 0 ? "" : fmt::format(", {} behind", behind));
}

std::vector<std::string> left_to_do(const wire::Status& status) {
  const auto named = static_cast<std::uint32_t>(status.copies_size());
  if (status.copies_needed() == 0)
    return {
        "it does not say how many copies it needs: its firmware is older than this program, or its answer "
        "is not valid; bring its firmware up to date and keep every archive until then"};
  if (named < status.copies_needed()) {
    return {fmt::format(
        "{} of {} copies: {}; until then it erases nothing, and stops taking pulls when its log is full",
        named, status.copies_needed(),
        named == 0 ? "fetch from a computer that is paired with it ('pair', then 'log fetch')"
                   : "fetch into a second archive too ('archive backup -o FILE', then 'log fetch --archive "
                     "FILE', best on another disk)")};
  }
  std::vector<std::uint64_t> marks;
  for (const auto& copy : status.copies()) marks.push_back(copy.up_to());
  std::ranges::sort(marks, std::greater{});
  const std::uint64_t held = marks[status.copies_needed() - 1];
  if (held >= marks.front()) return {};
  return {fmt::format("{} copies hold records up to {} only: fetch into the other archive too",
                      status.copies_needed(), held)};
}

std::string older_copy(const archive::Archive& kept, std::uint32_t jack, const wire::Status& status) {
  const std::uint64_t id = kept.identity().id;
  const auto own = std::ranges::find(status.copies(), id, &wire::LogCopy::id);
  const std::uint64_t held = kept.last_sequence(jack);
  if (own == status.copies().end() || own->up_to() <= held) return {};
  return fmt::format(
      "archive {}: is an older copy, put in the place of the one that jack {} knows: that one held its "
      "records "
      "up to {}, this one {}. Nothing is fetched into it or acknowledged; it can still be read. Put the "
      "newer one "
      "back; if there is none, make a new archive of this one ('archive backup -o NEW.sqlite'), fetch into "
      "that ('--archive NEW.sqlite'), and forget \"{}\" at the pendant (COPIES OF THE LOG)",
      kept.shown_place(), jack, own->up_to(), held == 0 ? "none" : fmt::format("up to {}", held),
      shown(own->name(), name_max));
}

std::string copies_json(const wire::Status& status) {
  auto copies = nlohmann::ordered_json::array();
  for (const auto& copy : status.copies())
    copies.push_back({{"id", fmt::format("{:016x}", copy.id())},
                      {"name", shown(copy.name(), name_max)},
                      {"up_to", copy.up_to()}});
  return nlohmann::ordered_json{
      {"needed", status.copies_needed()}, {"last_record", status.last_record()}, {"copies", copies}}
      .dump();
}

}  // namespace strandproof::host::fetch
