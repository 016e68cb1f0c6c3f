#include "host-tool/fetch/copy_log.hpp"

#include <utility>

#include "host-tool/base/problem.hpp"

namespace strandproof::host::fetch {
namespace {

// REFUSAL of the catalogue.
constexpr std::uint32_t busy = 18;
constexpr std::uint32_t copies_full = 76;

}  // namespace

Counted acknowledge(const Run& run, const proto::Peer& peer, const Intake& intake,
                    const proto::CopyName& copy) {
  const std::uint64_t held = intake.durable_up_to();
  if (held == 0) return Counted::nothing_held;
  if (!peer.identity()->paired()) return Counted::not_paired;
  const auto said =
      run([&](proto::Peer& p, proto::Peer::Done done) { p.release_records(held, copy, std::move(done)); });
  if (said.ok()) return Counted::yes;
  if (said.code == busy) return Counted::jack_works;
  if (said.code == copies_full) return Counted::list_full;
  throw refused("the records are held here, but the jack does not count this copy: " + said.what);
}

void demand_newest(const Run& run, const proto::Peer& peer, const Intake& intake) {
  const auto said = run([](proto::Peer& p, proto::Peer::Done done) { p.read_status(std::move(done)); });
  if (!said.ok()) throw refused("the jack refuses: " + said.what);
  intake.demand_newest(*peer.status());
}

Counted copy_log(const Run& run, const proto::Peer& peer, Intake& intake, const proto::CopyName& copy) {
  demand_newest(run, peer, intake);
  const std::uint64_t from = intake.from();
  if (peer.identity()->last_record() >= from) {
    const auto said =
        run([&](proto::Peer& p, proto::Peer::Done done) { p.fetch_log(from, UINT64_MAX, std::move(done)); });
    if (!said.ok()) throw refused("the jack refuses: " + said.what);
  }
  intake.store();
  intake.finish();
  return acknowledge(run, peer, intake, copy);
}

std::string why_not(Counted counted) {
  switch (counted) {
    case Counted::yes:
    case Counted::nothing_held:
      return {};
    case Counted::not_paired:
      return "this archive does not count as a copy: the jack does not know this computer; pair it ('pair'), "
             "then fetch again";
    case Counted::jack_works:
      return "not acknowledged, for the jack works: it counts this copy at the next fetch";
    case Counted::list_full:
      return "this archive does not count as a copy: the jack names four others; forget a lost one at the "
             "pendant (COPIES OF THE LOG), then fetch again";
  }
  return {};
}

}  // namespace strandproof::host::fetch
