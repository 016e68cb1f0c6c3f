// The CSV files that the host tool reads: UTF-8 without byte-order mark, one header line, no quotes, columns
// in any order, the unit in the column's name. Separator and decimal sign are declared, never guessed.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "host-tool/base/problem.hpp"

namespace strandproof::host::gauge {

struct CsvOptions {
  char separator = ',';  // ',' ';' or tab
  char decimal = '.';    // '.' or ','; never the separator
};

// Checks the two against each other. separator may be "tab". Throws Problem (fault).
CsvOptions csv_options(const std::string& separator, const std::string& decimal);

// What a column holds. pressure: mbar bar mpa psi kpa. force: n kn lbf kip. length: um mm in. The rest have
// no unit in their name.
enum class Quantity { plain, pressure, force, length };

struct ColumnSpec {
  std::string_view name;  // without the unit
  Quantity quantity;
  bool required;
};

// Reads line by line. Every problem is one line "file:line:column: what; remedy" (fault).
class Csv {
 public:
  // Reads the header. text must outlive the reader.
  Csv(std::string_view text, std::string name, CsvOptions options, std::span<const ColumnSpec> columns);

  // The next line; false at the end of the file, or if only blank lines follow. Throws if it has not as many
  // fields as the header.
  bool next();
  [[nodiscard]] int line() const { return line_; }
  [[nodiscard]] bool has(std::size_t column) const { return slots_[column].field >= 0; }
  // As the header writes it, with its unit.
  [[nodiscard]] std::string column_name(std::size_t column) const;

  [[nodiscard]] std::string_view text(std::size_t column) const;
  // In mbar, N or um by the column's unit; finite.
  [[nodiscard]] double number(std::size_t column) const;
  [[nodiscard]] std::int64_t whole(std::size_t column, std::int64_t low, std::int64_t high) const;
  // Seconds since 1970 UTC of an ISO 8601 time with its offset.
  [[nodiscard]] std::int64_t time(std::size_t column) const;

  [[nodiscard]] Problem problem(std::size_t column, const std::string& what) const;
  // For what belongs to no field: the start of the line.
  [[nodiscard]] Problem line_problem(const std::string& what) const;

 private:
  struct Field {
    std::string_view text;
    std::size_t at;  // offset in its line
  };
  struct Slot {
    int field = -1;       // place in a line; -1: the file has no such column
    double factor = 1.0;  // to mbar, N or um
    std::string name;
  };
  [[nodiscard]] std::vector<Field> split(std::string_view line) const;
  [[nodiscard]] std::string_view take_line();
  void read_header();
  void place(const Field& field, int index);
  [[nodiscard]] Problem problem_at(std::size_t offset, const std::string& what) const;
  [[nodiscard]] std::string with_point(const Field& field) const;

  std::string_view rest_;
  std::string name_;
  CsvOptions options_;
  std::span<const ColumnSpec> columns_;
  std::vector<Slot> slots_;
  std::vector<Field> fields_;
  std::size_t header_fields_ = 0;
  int line_ = 1;
};

}  // namespace strandproof::host::gauge
