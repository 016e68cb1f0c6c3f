// `gauge withdraw`: no pull any more on this table, and which strands it leaves in doubt.
#include <fmt/core.h>

#include <ctime>

#include "host-tool/base/text.hpp"
#include "host-tool/check/doubt.hpp"
#include "host-tool/check/held_bytes.hpp"
#include "host-tool/cli/tables.hpp"

namespace strandproof::host::cli {
namespace {

struct Withdrawn {
  std::uint32_t jack, revision;
  std::string sha256_hex, key_fingerprint;
  std::uint64_t last_record;
};

// At the jack first: what the archive says must not be milder than what the jack does.
Withdrawn at_the_jack(const Common& common, const GaugeWithdraw& o, std::uint32_t reason) {
  auto c = connect(common);
  const std::uint32_t jack = c.session->identify().jack_serial();
  const wire::Tables before = read_tables(c);
  const wire::TableSlot active = slot(before, active_slot(before, jack));
  if (o.revision != 0 && o.revision != active.revision()) {
    throw refused(
        fmt::format("jack {} works with revision {}, not {}; to withdraw that one in this archive: "
                    "--offline",
                    jack, active.revision(), o.revision));
  }
  wire::TableWithdraw m;
  m.set_revision(active.revision());
  m.set_reason(reason);
  c.session->must([&](proto::Peer& p, proto::Peer::Done done) { p.withdraw_table(m, std::move(done)); });
  if (read_tables(c).withdrawn_reason() == 0)
    throw bad_input("the jack answered, but does not say that the table is withdrawn; try again");
  fmt::print("jack {}: revision {} withdrawn; it arms no pull until a table of higher revision is loaded\n",
             jack, active.revision());
  return {jack, active.revision(), to_hex(active.sha256()), to_hex(active.key_fingerprint()),
          c.session->identify().last_record()};
}

Withdrawn in_the_archive(const archive::Archive& kept, const GaugeWithdraw& o) {
  const std::uint32_t jack = chosen_jack(kept, o.jack);
  const std::uint32_t revision = o.revision != 0 ? o.revision : check::active_revision(kept, jack);
  if (revision == 0)
    throw refused(fmt::format("this archive loaded no table into jack {}; name it with --revision", jack));
  const auto held = kept.table(jack, revision);
  fmt::print(
      "jack {}: revision {} withdrawn IN THIS ARCHIVE ONLY: the jack does not know it and arms on; run "
      "this again at the jack\n",
      jack, revision);
  return {jack, revision, held ? held->sha256_hex : "", "", kept.last_sequence(jack)};
}

// A pull that is not in the archive could not be listed. The withdrawal stands, whatever comes of the fetch.
void fetch_for_the_list(const Common& common) {
  try {
    (void)log_fetch(common);
  } catch (const Problem& p) {
    fmt::print(stderr, "warning: {}; the list may not be complete: log fetch, then gauge history\n",
               p.what());
  }
}

}  // namespace

Exit gauge_withdraw(const Common& common, const GaugeWithdraw& o) {
  const std::uint32_t reason = check::reason_number(o.reason);
  auto kept = open_archive(common);
  const Withdrawn w = o.offline ? in_the_archive(kept, o) : at_the_jack(common, o, reason);
  kept.add({w.jack, archive::Act::withdrawn, std::time(nullptr), o.by, o.why, w.revision, w.sha256_hex,
            w.key_fingerprint, w.last_record, reason, ""});
  if (!o.offline) fetch_for_the_list(common);
  const std::size_t doubtful = print_doubt(kept, w.jack);
  fmt::print("strands in doubt: {}; the responsible engineer decides on each\n", doubtful);
  return Exit::good;
}

}  // namespace strandproof::host::cli
