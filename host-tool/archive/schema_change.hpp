// Makes the tables of a new archive and brings an older one to this program's schema. Private to this folder.
#pragma once

#include <string>

#include "host-tool/archive/store.hpp"

namespace strandproof::host::archive {

class SchemaChange {
 public:
  SchemaChange(Store& store, const Options& options) : store_{store}, options_{options} {}
  // Throws Problem (fault): a newer schema, another program's tables, no room; then nothing has been changed.
  void bring_up();

 private:
  [[nodiscard]] int held_version() const;
  [[nodiscard]] int checked_version() const;
  [[nodiscard]] int tables_of(const std::string& condition) const;
  void hold_sqlite_to_promises();
  void create();
  void make_tables();
  void make_rest();
  void make_indexes();
  void make_identity();
  void make_triggers();
  void migrate(int from);
  void take_over(int from);
  void take_over_history(int from);
  void take_over_records();
  void take_over_instructions();
  void take_over_sign_offs();
  std::string back_up(int from);

  Store& store_;
  const Options& options_;
};

}  // namespace strandproof::host::archive
