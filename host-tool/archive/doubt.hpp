// A file whose disk has failed to write it. After a failed sync Linux drops what was to be made durable, lets
// it be read all the same and says nothing at the next sync: what is entered behind it then is confirmed and
// lost with the power. So from the first error of the disk on nothing more is entered, by any program, until
// the files were written anew from what reads back and synced. Private to this folder.
#pragma once

#include <string>

namespace strandproof::host::archive {

class Doubt {
 public:
  // place: of an SQLite file. A PostgreSQL and what is in memory are never in doubt: "".
  explicit Doubt(const std::string& place) : place_{place} {}

  [[nodiscard]] bool applies() const { return !place_.empty(); }
  // The mark is a file beside the archive. It need not outlast the power: nothing is confirmed while it lies
  // there, and after the power was lost every program reads what the disk has.
  void raise() const noexcept;
  [[nodiscard]] bool raised() const;

  // Before the archive is opened: writes every byte of it again, syncs, and takes the mark away. The same
  // bytes at the same places, so that a loss of power in between leaves the archive as it was or as it reads.
  // true: it was in doubt. Throws Problem (fault): in use by another program, or the disk fails still.
  bool settle() const;

 private:
  [[nodiscard]] std::string mark() const { return place_ + ".doubtful"; }
  std::string place_;
};

}  // namespace strandproof::host::archive
