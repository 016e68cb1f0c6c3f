#include "sim/bench/trace_file.hpp"

#include <cerrno>
#include <cstring>
#include <filesystem>
#include <stdexcept>

namespace strandproof::sim {

OutFile::OutFile(const std::string& path) : path_{path}, file_{std::fopen(path.c_str(), "we")} {
  if (!file_) {
    throw std::runtime_error(path + ": can not write the trace: " + std::strerror(errno) +
                             "; name a file in a folder that you may write");
  }
}

void OutFile::write(std::string_view bytes) {
  failed_ = failed_ || std::fwrite(bytes.data(), 1, bytes.size(), file_.get()) != bytes.size();
}

void OutFile::close() {
  failed_ = std::fclose(file_.release()) != 0 || failed_;
  if (failed_) {
    throw std::runtime_error(path_ + ": the trace could not be written whole; free some space");
  }
}

std::unique_ptr<TraceFile> open_trace(const std::string& path, const TraceNote& note) {
  const std::string ending = std::filesystem::path(path).extension();
  if (ending == ".csv") {
    return open_trace_csv(path, note);
  }
  if (ending == ".vcd") {
    return open_trace_vcd(path, note);
  }
  if (ending == ".mat") {
    return open_trace_mat(path, note);
  }
  throw std::runtime_error(path +
                           ": a trace of this ending is not known; end its name in .csv, .vcd or .mat");
}

}  // namespace strandproof::sim
