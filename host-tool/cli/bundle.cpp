// log bundle, and log verify of a bundle: the file alone, without archive, jack or network.
#include "host-tool/bundle/bundle.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <filesystem>

#include "host-tool/base/files.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/bundle/collect.hpp"
#include "host-tool/cli/connect.hpp"
#include "host-tool/fetch/guard.hpp"

namespace strandproof::host::cli {
namespace {

bundle::Scope scope_of(const LogBundle& o) {
  const bool range = o.first != 0 || o.last != 0;
  if (o.jack != 0 && o.bed) throw bad_input("say one of --bed and --jack");
  if (range && o.jack == 0)
    throw bad_input("--first and --last are numbers of one jack's records: give --jack as well");
  if (o.last != 0 && o.first > o.last) throw bad_input("--first is above --last; exchange both");
  if (o.jack != 0) return {.jack = o.jack, .first = o.first, .last = o.last};
  const std::uint32_t bed = o.bed.value_or(1);
  if (bed == 0) throw bad_input("--bed: is 0; beds are counted from 1");
  return {.bed = bed};
}

bool has_keys(const Common& common) {
  return std::filesystem::exists(std::filesystem::path{common.keys} / "pairing.key");
}

bundle::Host host_of(const Common& common, bool tag_keys) {
  bundle::Host host;
  host.keys_folder = common.keys;
  if (!has_keys(common)) {
    if (tag_keys)
      throw bad_input(common.keys +
                      ": no pairing key of this host, so no keys of tags; leave out --tag-keys");
    return host;
  }
  const auto keys = keys::load(common.keys);
  host.id = keys.host_id;
  if (tag_keys) host.key = fetch::proof_key(keys);
  return host;
}

std::string without_spaces(std::string text) {
  std::erase(text, ' ');
  return text;
}

// What this computer and the person with a paper know beside the file.
std::vector<std::string> against_what_is_held(const Common& common, const bundle::Data& data,
                                              const std::string& key) {
  std::vector<std::string> faults;
  for (const auto& jack : data.jacks) {
    const auto held = proof::load_head(common.keys, jack.serial);
    const std::string fault =
        held ? bundle::against_head(data, held->head, "the head that this computer holds") : "";
    if (!fault.empty()) faults.push_back(fault);
    const auto theirs = bundle::key_of(data, jack.serial);
    const std::string shown_key = theirs ? proof::fingerprint_text(*theirs) : "none";
    if (!key.empty() && without_spaces(key) != without_spaces(shown_key))
      faults.push_back(fmt::format("jack {}: its key is {}, not {}", jack.serial, shown_key, shown(key)));
  }
  return faults;
}

std::size_t print_all(const char* what, const std::vector<std::string>& lines, bool json) {
  for (const auto& line : lines) {
    if (!json) fmt::print("{}: {}\n", what, line);
  }
  return lines.size();
}

}  // namespace

Exit log_bundle(const Common& common, const LogBundle& o) {
  const bundle::Scope scope = scope_of(o);
  const bundle::Host host = host_of(common, o.tag_keys);
  const auto data = bundle::collect(open_archive(common), scope, host);
  const std::string file = bundle::file_of(data);
  write_output(o.output, file, bundle::file_mark, "a bundle");
  fmt::print("written: {} ({}, {} bytes, SHA-256 {}); check it with: strandproof log verify {}\n", o.output,
             counted(static_cast<std::int64_t>(data.records.size()), "record"), file.size(), sha256_hex(file),
             o.output);
  return Exit::good;
}

Exit log_verify_bundle(const Common& common, const LogVerify& o) {
  const auto e = bundle::examine(read_file(o.file), o.file);
  const auto held = against_what_is_held(common, e.data, o.key);
  print_all("holds", e.proof.holds, common.json);
  print_all("open", e.proof.open, common.json);
  const std::size_t faults = print_all("DOES NOT HOLD", e.changed, common.json) +
                             print_all("DOES NOT HOLD", e.proof.faults, common.json) +
                             print_all("DOES NOT HOLD", held, common.json);
  if (common.json) {
    fmt::print("{{\"records\":{},\"holds\":{},\"open\":{},\"faults\":{}}}\n", e.data.records.size(),
               e.proof.holds.size(), e.proof.open.size(), faults);
  } else {
    fmt::print("{}: {}\n", o.file,
               faults == 0 ? "everything in it holds, and its page is what its data give"
                           : "does not hold; do not rely on it, ask for the file again and keep this one");
  }
  return faults == 0 ? Exit::good : Exit::refused;
}

}  // namespace strandproof::host::cli
