#include "host-tool/capture/run_file.hpp"

#include <fmt/core.h>

#include <string_view>
#include <utility>

#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/gauge/reading_marks.hpp"

namespace strandproof::host::capture {
namespace {

// Every file of a capture has this header: a cell is always declared. Only the room's temperature may be
// missing.
std::string header(const Declared& d) {
  return fmt::format(
      "run,direction,set_point_n,pressure_a_mbar,pressure_b_mbar,reference_n,stroke_um,oil_c,{}jack_serial,"
      "sensor_a_serial,sensor_b_serial,origin,taken_at,cell_serial,cell_class,cell_from_n,cell_to_n,cell_due{"
      "},resumed\n",
      d.ambient_c ? "ambient_c," : "", d.cell.expanded_ppm ? ",cell_ppm" : "");
}

std::string_view direction(Kind kind) {
  return kind == Kind::up ? "up" : kind == Kind::down ? "down" : "zero";
}

std::string_view name(gauge::Origin origin) {
  switch (origin) {
    case gauge::Origin::simulated:
      return "simulated";
    case gauge::Origin::emulated:
      return "emulated";
    case gauge::Origin::hardware:
      return "hardware";
  }
  return "";
}

std::string cell_class(int tenths) {
  return tenths == 0 ? "00" : tenths % 10 == 0 ? std::to_string(tenths / 10) : "0." + std::to_string(tenths);
}

std::string line(const Declared& d, const Reading& r, std::int64_t taken_s, bool resumed) {
  std::string text = fmt::format("{},{},{},{:.2f},{:.2f},{:.2f},{:.0f},{:.1f},", r.step.series,
                                 direction(r.step.kind), r.step.set_point_n, r.pressure_mbar[0],
                                 r.pressure_mbar[1], r.reference_n, r.stroke_um, r.oil_c);
  if (d.ambient_c) text += fmt::format("{:.1f},", *d.ambient_c);
  text += fmt::format("{},{},{},{},{},{},{},{:.0f},{:.0f},{}", d.jack_serial, d.sensor_serial[0],
                      d.sensor_serial[1], name(d.origin), format_time(taken_s), d.cell.serial,
                      cell_class(d.cell.class_tenths), d.cell.from_n, d.cell.to_n, format_time(d.cell.due_s));
  if (d.cell.expanded_ppm) text += fmt::format(",{}", *d.cell.expanded_ppm);
  return text + (resumed ? ",1\n" : ",0\n");
}

Reading reading(const gauge::RunRow& row) {
  const Kind kind = row.direction == gauge::Direction::up     ? Kind::up
                    : row.direction == gauge::Direction::down ? Kind::down
                                                              : Kind::zero;
  return {{kind, row.run, row.set_point_n},
          row.pressure_mbar,
          row.reference_n,
          static_cast<double>(row.stroke_um),
          row.oil_c};
}

// What differs between the file and what is declared now, in words; "" for nothing.
std::string difference(const gauge::Runs& runs, const Declared& d) {
  const auto two = [](const char* what, const auto& file, const auto& now) {
    return fmt::format("it is of {} {}, and now it is {}", what, file, now);
  };
  if (runs.jack_serial != d.jack_serial) return two("jack", runs.jack_serial, d.jack_serial);
  for (std::size_t c = 0; c < 2; ++c) {
    const char* what = c == 0 ? "sensor A" : "sensor B";
    if (runs.sensor_serial[c] != d.sensor_serial[c])
      return two(what, runs.sensor_serial[c], d.sensor_serial[c]);
  }
  if (runs.origin != d.origin) return two("origin", name(runs.origin), name(d.origin));
  if (!runs.cell) return "it declares no reference cell";
  if (runs.cell->serial != d.cell.serial) return two("reference cell", runs.cell->serial, d.cell.serial);
  return *runs.cell == d.cell ? "" : "class, range, due date or uncertainty of the reference cell differ";
}

}  // namespace

RunFile::RunFile(const std::string& path, Declared declared) : file_{path}, declared_{std::move(declared)} {
  std::string text = file_.text();
  const std::string ours = header(declared_);
  if (text.size() < ours.size() && std::string_view{ours}.starts_with(text)) {
    file_.cut(0);  // new, or torn within its header
    file_.append(ours);
    return;
  }
  if (!text.starts_with(ours)) {
    throw bad_input(
        fmt::format("{}:1: is no capture with these columns (--ambient-c and --cell-ppm add one each); "
                    "name another file, or repeat the options it was begun with",
                    path));
  }
  cut_torn_line(text);
  if (text.size() > ours.size()) take_over(text);
}

// After a loss of power the end of a file may be cut, or zeros.
void RunFile::cut_torn_line(std::string& text) {
  const std::size_t sound = text.rfind('\n', text.find('\0')) + 1;
  if (sound == text.size()) return;
  dropped_ = shown(std::string_view{text}.substr(sound), 60);
  text.resize(sound);
  file_.cut(sound);
}

void RunFile::take_over(const std::string& text) {
  const auto runs = gauge::read_runs(text, file_.path());
  if (const auto differs = difference(runs, declared_); !differs.empty()) {
    throw bad_input(fmt::format("{}:2: {}; name another file, or put the parts back that it was begun with",
                                file_.path(), differs));
  }
  for (const auto& row : runs.rows) readings_.push_back(reading(row));
  series_left_ = readings_.back().step.series;
  first_taken_s_ = gauge::first_taken_s(runs);
}

void RunFile::append(const Reading& r, std::int64_t taken_s) {
  file_.append(line(declared_, r, taken_s, series_left_ == r.step.series));
  series_left_ = 0;
}

}  // namespace strandproof::host::capture
