// How rows enter the tables, for the archive, its migration and its copies alike. Private to this folder;
// every function belongs inside a transaction of writing.
#pragma once

#include "host-tool/archive/store.hpp"

namespace strandproof::host::archive {

class RecordWriter {
 public:
  explicit RecordWriter(Store& store);
  // false: a record of this device and sequence is there already, and stays as it is.
  bool insert(const StoredRecord& record);

 private:
  Store::Prepared statement_;
};

void insert(Store& store, const SentInstruction& instruction);
void insert(Store& store, const HistoryEntry& entry);

}  // namespace strandproof::host::archive
