// What most commands begin with: this host's keys and an open line to a jack.
#pragma once

#include <memory>

#include "host-tool/cli/commands.hpp"
#include "host-tool/keys/keys.hpp"
#include "host-tool/link/session.hpp"

namespace strandproof::host::cli {

struct Connection {
  keys::Keys keys;
  std::unique_ptr<link::Session> session;
};

// Throws Problem as keys::load, link::choose_port and link::open_line do.
Connection connect(const Common& common);

}  // namespace strandproof::host::cli
