// The part of the command line that is about records and the archive. Needs CLI11 in its sources alone.
#pragma once

#include <functional>
#include <string>

#include "host-tool/cli/commands.hpp"

namespace CLI {
class App;
}

namespace strandproof::host::cli {

struct RecordOptions {
  LogFind find;
  LogAccept accept;
  LogBundle bundle;
  LogVerify verify;
  ArchiveEntry entry;
  TimeSpan span;
  std::uint64_t days = 0;
  std::uint32_t jack = 0;
  std::string file;
};

CLI::App* command(CLI::App& parent, const char* name, const char* what);

// Adds `log` and `archive`; every argument outlives the parsing and the command.
void add_records(CLI::App& app, const Common& common, RecordOptions& options, std::function<Exit()>& chosen);

}  // namespace strandproof::host::cli
