// The command line of `log` and `archive`: records, and what is done with them in the archive.
#include "host-tool/main_records.hpp"

#include <CLI/CLI.hpp>

namespace strandproof::host::cli {
namespace {

// What the parser writes into, and the command that was chosen.
struct Records {
  const Common& common;
  RecordOptions& o;
  std::function<Exit()>& chosen;
};

void add_span(CLI::App& app, TimeSpan& span) {
  app.add_option("--from", span.from, "day, 2026-05-04, or moment, by the jack's clock");
  app.add_option("--until", span.until, "the same; not included");
}

void add_filter(CLI::App& app, LogFind& o) {
  app.add_option("--jack", o.jack, "serial");
  app.add_option("--bed", o.bed, "number of the bed");
  app.add_option("--position", o.position, "of the strand in the bed");
  app.add_option("--strand", o.strand, "size and grade as the plan writes it");
  app.add_option("--reel", o.reel, "number of the reel");
  app.add_option("--table", o.table, "revision of the gauge table");
  app.add_option("--verdict", o.verdict, "word or number, such as within-limits");
  app.add_option("--event", o.event, "word or number, such as trip");
  app.add_option("--cause", o.cause, "word or number, such as strand-break");
  add_span(app, o.span);
  app.add_option("--first", o.first, "lowest record number");
  app.add_option("--last", o.last, "highest record number");
  app.add_option("--limit", o.limit, "at most so many");
}

void add_bundle(CLI::App& log, Records& p) {
  CLI::App* bundle = command(log, "bundle", "records with all that proves them as one file for any browser");
  LogBundle& o = p.o.bundle;
  bundle->add_option("--bed", o.bed, "number of the bed; default: 1");
  bundle->add_option("--jack", o.jack, "serial: its whole log instead of a bed");
  bundle->add_option("--first", o.first, "lowest record number, with --jack");
  bundle->add_option("--last", o.last, "highest record number, with --jack");
  bundle->add_flag("--tag-keys", o.tag_keys, "with the keys of the tags of closed epochs");
  bundle->add_option("-o,--output", o.output, "HTML file to write")->required();
  bundle->callback([p] { p.chosen = [p] { return log_bundle(p.common, p.o.bundle); }; });
}

void add_log(CLI::App& app, Records& p) {
  CLI::App* log = command(app, "log", "the jack's log: fetch, tail, copies, verify, bundle, show, find, csv");
  log->require_subcommand(1);
  command(*log, "fetch", "copy new records into the archive")->callback([p] {
    p.chosen = [p] { return log_fetch(p.common); };
  });
  command(*log, "tail", "follow the log into the archive, a line each, until Ctrl-C")->callback([p] {
    p.chosen = [p] { return log_tail(p.common); };
  });
  command(*log, "copies", "who holds a copy of the jack's log, and up to where")->callback([p] {
    p.chosen = [p] { return log_copies(p.common); };
  });
  CLI::App* verify = command(*log, "verify", "follow the chain of each jack's log, against the held heads");
  verify->add_option("BUNDLE", p.o.verify.file, "a bundle, checked by itself; default: the archive");
  verify->add_option("--key", p.o.verify.key, "fingerprint that the key of the bundle's jack must have");
  verify->callback([p] {
    p.chosen = [p] {
      return p.o.verify.file.empty() ? log_verify(p.common) : log_verify_bundle(p.common, p.o.verify);
    };
  });
  add_bundle(*log, p);
  CLI::App* accept = command(*log, "accept", "a controller was replaced: hold the log of the new one");
  accept->add_option("--accept", p.o.accept.fingerprint, "fingerprint of its key, as this command shows it");
  accept->add_option("--by", p.o.accept.by, "role of the person")->required();
  accept->add_option("--why", p.o.accept.why, "what happened")->required();
  accept->callback([p] { p.chosen = [p] { return log_accept(p.common, p.o.accept); }; });
  CLI::App* show = command(*log, "show", "the archive's records as lines");
  show->add_flag("--curves", p.o.find.curves, "with the points of each pull");
  show->callback([p] { p.chosen = [p] { return log_show(p.common, p.o.find.curves); }; });
  CLI::App* find = command(*log, "find", "records of all jacks and years by what they say");
  add_filter(*find, p.o.find);
  find->add_flag("--curves", p.o.find.curves, "with the points of each pull");
  find->callback([p] { p.chosen = [p] { return log_find(p.common, p.o.find); }; });
  CLI::App* csv = command(*log, "csv", "the same records as CSV");
  add_filter(*csv, p.o.find);
  csv->add_option("--snapshot", p.o.find.snapshot, "instead: the samples around the trip of this record");
  csv->add_option("-o,--output", p.o.find.output, "CSV file to write")->required();
  csv->callback([p] { p.chosen = [p] { return log_csv(p.common, p.o.find); }; });
}

void add_archive_copies(CLI::App& archive, Records& p) {
  command(archive, "check", "whether it is whole, as far as it can know")->callback([p] {
    p.chosen = [p] { return archive_check(p.common); };
  });
  CLI::App* backup = command(archive, "backup", "as one file, read back and compared");
  backup->add_option("-o,--output", p.o.file, "file to write")->required();
  backup->callback([p] { p.chosen = [p] { return archive_back_up(p.common, p.o.file); }; });
  CLI::App* restore = command(archive, "restore", "make the archive of --archive out of a backup");
  restore->add_option("BACKUP", p.o.file, "file")->required();
  restore->callback([p] { p.chosen = [p] { return archive_restore(p.common, p.o.file); }; });
  CLI::App* name = command(archive, "name", "how jacks call this copy of their log");
  name->add_option("NAME", p.o.file, "1 to 23 letters; without one: shows it");
  name->callback([p] { p.chosen = [p] { return archive_name(p.common, p.o.file); }; });
  CLI::App* keep = command(archive, "keep", "keep a file of calibration runs or a plan by its digest");
  keep->add_option("FILE", p.o.file, "file")->required();
  keep->callback([p] { p.chosen = [p] { return archive_keep(p.common, p.o.file); }; });
  CLI::App* statistics = command(archive, "statistics", "a jack's pulls, trips and slopes, month by month");
  statistics->add_option("--jack", p.o.jack, "serial; default: the only one in the archive");
  add_span(*statistics, p.o.span);
  statistics->callback([p] { p.chosen = [p] { return archive_statistics(p.common, p.o.jack, p.o.span); }; });
}

void add_archive_entries(CLI::App& archive, Records& p) {
  ArchiveEntry& o = p.o.entry;
  const auto entry = [&](const char* name, const char* what,
                         Exit (*act)(const Common&, const ArchiveEntry&)) {
    CLI::App* made = command(archive, name, what);
    made->add_option("WORDS", o.words, "one line")->required();
    made->add_option("--by", o.by, "role of the person, no name")->required();
    made->callback([p, act] { p.chosen = [p, act] { return act(p.common, p.o.entry); }; });
    return made;
  };
  const auto about = [&](CLI::App* made) {
    made->add_option("--jack", o.jack, "serial");
    made->add_option("--bed", o.bed, "number of the bed");
    made->add_option("--record", o.record, "number of the jack's record");
  };
  about(entry("remark", "enter a remark", archive_remark));
  CLI::App* decide = entry("decide", "enter what the engineer decided on a strand", archive_decide);
  about(decide);
  decide->add_option("--decision", o.decision, "accepted, replaced or rejected")->required();
  entry("remove", "delete a signed bed's records after the minimum age", archive_remove)
      ->add_option("--bed", o.bed, "number of the bed")
      ->required();
  CLI::App* entries = command(archive, "entries", "what people entered, and the head of its chain");
  entries->add_option("--bed", o.bed, "of one bed alone");
  entries->callback([p] { p.chosen = [p] { return archive_entries(p.common, p.o.entry.bed); }; });
  CLI::App* age = command(archive, "minimum-age", "how long signed beds are kept at least");
  age->add_option("--days", p.o.days, "raise it to so many; it is never lowered");
  age->add_option("--by", o.by, "role of the person, no name");
  age->callback([p] { p.chosen = [p] { return archive_minimum_age(p.common, p.o.days, p.o.entry.by); }; });
}

void add_archive(CLI::App& app, Records& p) {
  CLI::App* archive = command(app, "archive", "the archive: check, backup, restore, entries, statistics");
  archive->require_subcommand(1);
  add_archive_copies(*archive, p);
  add_archive_entries(*archive, p);
}

}  // namespace

CLI::App* command(CLI::App& parent, const char* name, const char* what) {
  CLI::App* app = parent.add_subcommand(name, what);
  app->fallthrough();  // the common options may stand before and after the command
  return app;
}

void add_records(CLI::App& app, const Common& common, RecordOptions& options, std::function<Exit()>& chosen) {
  Records p{common, options, chosen};
  add_log(app, p);
  add_archive(app, p);
}

}  // namespace strandproof::host::cli
