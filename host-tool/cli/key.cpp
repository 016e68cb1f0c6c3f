// Commands about keys: those of this computer, and those that sign gauge tables.
#include <fmt/core.h>
#include <unistd.h>

#include <filesystem>

#include "host-tool/cli/connect.hpp"
#include "host-tool/keys/table_key.hpp"

namespace strandproof::host::cli {

std::string table_key_file(const Common& common, const std::string& named) {
  return named.empty() ? (std::filesystem::path{common.keys} / "table.key").string() : named;
}

Exit key_new(const Common& common, const std::string& name) {
  std::string host = name;
  if (host.empty()) {
    char of_system[64] = {};
    host = gethostname(of_system, sizeof of_system - 1) == 0 ? of_system : "host";
  }
  keys::make(common.keys, host);
  fmt::print("pairing key made in {} for host \"{}\"; it is of this computer and is not copied\n",
             common.keys, keys::load(common.keys).name);
  fmt::print("to sign gauge tables: strandproof key table-new --name NAME\n");
  return Exit::good;
}

Exit key_table_new(const Common& common, const KeyFile& o) {
  const std::string file = table_key_file(common, o.file);
  const auto made =
      keys::make_table_key(file, o.name, keys::ask_new_passphrase(o.passphrase_file, "new passphrase"));
  fmt::print("table key \"{}\" made: {}\nfingerprint {}\n", made.name, file,
             keys::fingerprint(made.public_key));
  fmt::print(
      "copy the file to a place apart, keep the passphrase elsewhere, and enrol the key at each jack: "
      "strandproof key enrol\n");
  return Exit::good;
}

Exit key_show(const Common& common, const KeyFile& o) {
  if (o.file.empty()) fmt::print("host        \"{}\" ({})\n", keys::load(common.keys).name, common.keys);
  const std::string file = table_key_file(common, o.file);
  if (o.file.empty() && !std::filesystem::exists(file)) {
    fmt::print("table key   none in {}; make one with 'strandproof key table-new'\n", common.keys);
    return Exit::good;
  }
  const auto key = keys::read_table_key(file);
  fmt::print("table key   {}  \"{}\"  {}\n", keys::fingerprint(key.public_key), key.name, file);
  return Exit::good;
}

Exit key_change_passphrase(const Common& common, const KeyFile& o) {
  const std::string file = table_key_file(common, o.file);
  const auto key = keys::read_table_key(file);
  const auto old_one =
      keys::ask_passphrase(o.passphrase_file, "passphrase of table key \"" + key.name + "\"");
  (void)keys::open_table_key(file, old_one);  // before a new one is asked for
  const auto new_one = keys::ask_new_passphrase(o.new_passphrase_file, "new passphrase");
  if (new_one.bytes() == old_one.bytes())
    throw refused(file + ": the new passphrase is the old one; nothing changed, choose another");
  keys::change_passphrase(file, old_one, new_one);
  fmt::print("passphrase of table key \"{}\" changed; copies of the file keep the old one: make them new\n",
             key.name);
  return Exit::good;
}

// The public key is in the file; no passphrase is asked for.
Exit key_enrol(const Common& common, const KeyFile& o) {
  const auto key = keys::read_table_key(table_key_file(common, o.file));
  auto c = connect(common);
  c.session->peer().on_key_shown = [&] {
    fmt::print("the pendant must show \"{}\" {}; if it does, confirm there, if not, reset there\n", key.name,
               keys::fingerprint(key.public_key));
    std::fflush(stdout);
  };
  c.session->must([&](proto::Peer& p, proto::Peer::Done done) {
    p.enrol_table_key(key.name, key.public_key, std::move(done));
  });
  fmt::print("enrolled: table key \"{}\" signs gauge tables for jack {}\n", key.name,
             c.session->peer().identity()->jack_serial());
  return Exit::good;
}

}  // namespace strandproof::host::cli
