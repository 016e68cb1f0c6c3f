// What differs between the engines: how a session is opened and held to its promises, and what their errors
// mean to a person. Private to this folder.
#pragma once

#include <exception>
#include <string>

#include "host-tool/archive/store.hpp"
#include "host-tool/base/problem.hpp"

namespace soci {
class session;
}

namespace strandproof::host::archive {

// A place that begins with postgresql:// or postgres:// is a PostgreSQL, everything else a file.
Engine engine_of(const std::string& place);

// Opens, and holds the session to durable commits. Throws the engine's errors, and Problem (fault) where the
// server would confirm what is not on its disk.
void open_session(soci::session& sql, const std::string& place, const Options& options);

// A read, write or sync of SQLite's that the disk failed; not where it was only full.
bool is_of_the_disk(const std::exception& error);

// One clear line of an engine's error. committing: the answer to a commit was awaited.
Problem explained(const std::string& name, const std::exception& error, bool committing);

}  // namespace strandproof::host::archive
