#include "host-tool/report/table_proof.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <nlohmann/json.hpp>
#include <string_view>

#include "host-tool/base/files.hpp"
#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/gauge/table_file.hpp"

namespace strandproof::host::report {
namespace {

using Json = nlohmann::json;

constexpr double tolerance = 1e-9;
// The name of the runs may be another, and with it the file's own digest; every other field is compared.
constexpr std::array<std::string_view, 2> may_differ{"/source/file", "/file_sha256"};

bool must_be_same(const std::string& field) {
  return std::find(may_differ.begin(), may_differ.end(), field) == may_differ.end();
}

bool same(const Json& a, const Json& b) {
  if (!a.is_number_float() && !b.is_number_float()) return a == b;
  if (!a.is_number() || !b.is_number()) return false;
  const auto x = a.get<double>();
  const auto y = b.get<double>();
  return std::abs(x - y) <= tolerance * std::max({1.0, std::abs(x), std::abs(y)});
}

Problem differs(const std::string& name, const std::string& field, const Json* there, const Json* ours) {
  const auto text = [](const Json* j) { return j == nullptr ? std::string{"missing"} : shown(j->dump()); };
  return refused(fmt::format(
      "{}: field {} is {} where the runs give {}; the table is not what its runs give: make it again with "
      "'strandproof gauge fit'",
      name, shown(field, 80), text(there), text(ours)));
}

// Every field of the file against the table that was made again, by its path.
void compare(const std::string& text, const std::string& name, const std::string& again) {
  const Json there = Json::parse(text).flatten();
  const Json ours = Json::parse(again).flatten();
  for (const auto& [field, value] : ours.items()) {
    const auto found = there.find(field);
    if (found == there.end()) throw differs(name, field, nullptr, &value);
    if (must_be_same(field) && !same(*found, value)) throw differs(name, field, &*found, &value);
  }
  for (const auto& [field, value] : there.items()) {
    if (!ours.contains(field)) throw differs(name, field, &value, nullptr);
  }
}

}  // namespace

Proved prove_table(const Named& runs, const Named& table) {
  const auto options = gauge::options_from_json(table.text, table.name);
  const std::string digest = sha256_hex(runs.text);
  const Json source = Json::parse(table.text).value("source", Json::object());
  if (source.value("sha256", "") != digest) {
    throw refused(
        fmt::format("{}: was not made of {}: the SHA-256 of its runs is another; give the runs that it was "
                    "made of, or make it again with 'strandproof gauge fit'",
                    table.name, runs.name));
  }
  auto read = gauge::read_runs(runs.text, runs.name, options.csv);
  auto made = gauge::make_table(read, options);
  compare(table.text, table.name, gauge::to_json(made, {runs.name, digest}));
  return {std::move(read), std::move(made)};
}

}  // namespace strandproof::host::report
