// The calibration report of a gauge table: one page for A4 or Letter paper (PDF) and the same for the screen
// (HTML). What stands on it is worked out once, as texts and shapes (CalibrationSheet); paper and screen only
// lay it out, so that both say the same.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

#include "host-tool/report/picture.hpp"

namespace strandproof::host::report {

enum class Paper { a4, letter };

struct CalibrationInput {
  std::string runs, runs_name;    // calibration runs (CSV): the text, and its name for messages
  std::string table, table_name;  // gauge table (JSON)
  std::string issuer;             // who issues the report; empty: left to be written by hand
  std::string accreditation;      // of the issuer, in his words; empty: "not an accredited calibration"
};

struct Fact {
  std::string label, value;
};

// A table of texts. The first `left` columns read from the left, the others are numbers and end at the right.
struct Grid {
  struct Group {
    std::string text;
    std::size_t columns;
  };
  std::string title;
  std::vector<Group> groups;          // a line above the headings; empty: none
  std::vector<std::string> headings;  // with their units
  std::vector<std::vector<std::string>> rows;
  std::size_t left = 1;
  std::string note;  // below; may be empty
};

struct Remarks {
  std::string title;
  std::vector<std::string> items;
};

struct CalibrationSheet {
  std::string title, subject;
  std::string issuer;         // with the word on accreditation
  std::string origin;         // "SIMULATED", across the page; empty: hardware
  std::string origin_line;    // the same with its consequence; empty: hardware
  std::vector<Fact> results;  // what a person looks for first: class, uncertainty, range, dates
  Grid unit;                  // what was calibrated, and against what
  Grid runs;                  // readings, or a summary that says so
  std::vector<Picture> residuals;
  std::string residuals_title, residuals_note;
  Grid errors, fits, points, budget;
  Remarks statements, cautions;
  std::vector<Fact> signatures;  // empty: can not be signed off; label: what is signed, value: what to write
  std::vector<Fact> digests;
  std::int64_t dated_s = 0;  // of the calibration: the only time that the file carries
};

// Fits the runs again with the options that the table keeps, proves that the result is the table, and puts
// the report together. Throws Problem (fault) as read_runs and the reader of tables do, and Problem (refused)
// if the table is not what the runs give, naming the first field that differs; or as make_table does.
CalibrationSheet calibration_sheet(const CalibrationInput& input);

// One page that asks for nothing else.
std::string calibration_html(const CalibrationSheet& sheet);

// One page, the same bytes from the same sheet. Throws Problem (fault) if the font is not installed, or if
// the texts do not fit on the page in the smallest type (issuer or accreditation far too long).
std::string calibration_pdf(const CalibrationSheet& sheet, Paper paper);

}  // namespace strandproof::host::report
