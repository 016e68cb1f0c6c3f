// What most commands begin with: this host's keys and an open line to a jack.
#pragma once

#include <memory>

#include "host-tool/archive/archive.hpp"
#include "host-tool/cli/commands.hpp"
#include "host-tool/keys/keys.hpp"
#include "host-tool/link/session.hpp"

namespace strandproof::host::cli {

struct Connection {
  proto::HostKeys keys;
  std::unique_ptr<link::Session> session;
};

// Throws Problem as keys::load, link::choose_port and link::open_line do.
Connection connect(const Common& common, link::SessionOptions options = {});

// The archive that the options name; what it has to tell goes to standard error. Throws Problem as Archive
// does.
archive::Archive open_archive(const Common& common);

// A server, or a file that is there.
bool holds_an_archive(const Common& common);

// Throws Problem where a file that open_archive would make is not there yet: a mistyped path makes none.
void demand_archive(const Common& common);

// The file of the table key: the one named, else table.key in this host's folder.
std::string table_key_file(const Common& common, const std::string& named);

}  // namespace strandproof::host::cli
