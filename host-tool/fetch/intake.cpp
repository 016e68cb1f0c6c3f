#include "host-tool/fetch/intake.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <filesystem>
#include <utility>

#include "host-tool/archive/place.hpp"
#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/fetch/copies.hpp"

namespace strandproof::host::fetch {
namespace {

constexpr std::size_t longest_name = 23;  // letters of a copy's name on the wire
constexpr std::size_t longest_host = 10;  // of these, where the file's name needs the rest

// What a name on the wire may hold; a blank could stand at its end, where nobody sees it.
std::string letters(const std::string& text) {
  std::string out = shown(text, text.size());
  std::ranges::replace(out, ' ', '_');
  return out;
}

std::string first_name(const std::string& host, const std::string& place) {
  const std::string file = letters(std::filesystem::path{place}.stem().string());
  const std::size_t room = longest_name - 1 - std::min(file.size(), longest_name - 1 - longest_host);
  const std::string at = letters(host).substr(0, room) + ":";
  return at + file.substr(file.size() - std::min(file.size(), longest_name - at.size()));
}

}  // namespace

std::uint64_t Intake::from() const {
  return std::max<std::uint64_t>(held_up_to(), 1);
}

void Intake::demand_extends(std::uint64_t last_record) const {
  const std::uint64_t known = held_up_to();
  if (last_record >= known) return;
  throw refused(fmt::format(
      "jack {} holds records up to {}, this archive already up to {}: its memory was renewed; keep "
      "this archive, use another one (--archive) and report it",
      device_, last_record, known));
}

void Intake::demand_newest(const wire::Status& status) const {
  if (const auto older = older_copy(kept_, device_, status); !older.empty()) throw refused(older);
}

std::uint64_t Intake::durable_up_to() const {
  kept_.demand_in_place();
  const std::uint64_t now = held_up_to();
  if (now >= seen_) return now;
  throw refused(
      fmt::format("archive {}: held records of jack {} up to {} when it was opened, and now up to {}; it was "
                  "set back while it was open; nothing is acknowledged; begin the command again",
                  kept_.shown_place(), device_, seen_, now));
}

void Intake::take(const wire::LogRecord& r) {
  waiting_.push_back({device_, r.boot(), r.sequence(), r.tick_ms(), r.body()});
  if (waiting_.size() >= batch) store();
}

void Intake::store() {
  if (waiting_.empty()) return;
  guard_.check(waiting_);
  enter();
  guard_.keep();
}

void Intake::enter() {
  const std::uint64_t before = held_up_to();
  const auto added = kept_.add(waiting_);
  total_.added += added.added;
  total_.already_held += added.already_held;
  const auto stored = std::exchange(waiting_, {});
  seen_ = std::max(seen_, stored.back().sequence);
  for (const auto& r : stored) {
    if (on_new && r.sequence > before) on_new(r);
  }
  if (on_batch) on_batch(total_);
}

proto::CopyName copy_name(archive::Archive& kept, const std::string& host, const std::string& place) {
  if (kept.identity().name.empty()) kept.rename(first_name(host, archive::shown_place(place)));
  const auto is = kept.identity();
  return {is.id, is.name};
}

}  // namespace strandproof::host::fetch
