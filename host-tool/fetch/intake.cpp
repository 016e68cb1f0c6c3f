#include "host-tool/fetch/intake.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <filesystem>
#include <utility>

#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"

namespace strandproof::host::fetch {
namespace {

constexpr std::size_t longest_name = 23;  // letters of a copy's name on the wire

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

void Intake::take(const wire::LogRecord& r) {
  waiting_.push_back({device_, r.boot(), r.sequence(), r.tick_ms(), r.body()});
  if (waiting_.size() >= batch) store();
}

void Intake::store() {
  if (waiting_.empty()) return;
  check();
  enter();
  keep();
}

void Intake::enter() {
  const std::uint64_t before = held_up_to();
  const auto added = kept_.add(waiting_);
  total_.added += added.added;
  total_.already_held += added.already_held;
  const auto stored = std::exchange(waiting_, {});
  for (const auto& r : stored) {
    if (on_new && r.sequence > before) on_new(r);
  }
  if (on_batch) on_batch(total_);
}

proto::CopyName copy_name(archive::Archive& kept, const std::string& host, const std::string& place) {
  if (kept.identity().name.empty()) {
    const std::string file = std::filesystem::path{place}.stem().string();
    kept.rename(shown(host + ":" + file, longest_name));
  }
  const auto is = kept.identity();
  return {is.id, is.name};
}

}  // namespace strandproof::host::fetch
