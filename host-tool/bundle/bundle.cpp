#include "host-tool/bundle/bundle.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <exception>
#include <string_view>

#include "host-tool/base/files.hpp"
#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/bundle/page.hpp"
#include "host-tool/bundle/page_template.hpp"

namespace strandproof::host::bundle {
namespace {

constexpr std::size_t longest_file = 64U << 20U;  // what read_file takes

struct Parts {
  std::string page, text;  // before the data block, and in it
};

Parts parts_of(const std::string& file, const std::string& name) {
  if (file.find(file_mark) == std::string::npos)
    throw bad_input(name + ": is no strandproof bundle; name a file that 'log bundle' wrote");
  const std::string_view begin{data_begin};
  const auto at = file.find(begin);
  if (at == std::string::npos || !file.ends_with(data_end) ||
      file.size() < at + begin.size() + std::string_view{data_end}.size())
    throw bad_input(name +
                    ": is cut off, or its data block is damaged: its begin or its end is missing; ask for "
                    "the file again");
  const auto from = at + begin.size();
  return {file.substr(0, at), file.substr(from, file.size() - from - std::string_view{data_end}.size())};
}

std::string digest_on(const std::string& page) {
  const auto at = page.find(digest_mark);
  return at == std::string::npos ? "" : page.substr(at + std::string_view{digest_mark}.size(), 64);
}

std::string file_with(const Data& data, const Proof& proof, const std::string& text) {
  return page_of(data, proof, sha256_hex(text)) + data_begin + text + data_end;
}

// Where the page that the data give leaves the one in the file.
std::string page_fault(const Examined& e, const std::string& file, const std::string& text) {
  if (e.data.page != page_version)
    return fmt::format(
        "readable part: of form {}, this program writes form {}: not compared; use the program that made it",
        e.data.page, page_version);
  const std::string ours = file_with(e.data, e.proof, text);
  if (ours == file) return {};
  const auto at = static_cast<std::size_t>(std::ranges::mismatch(ours, file).in2 - file.begin());
  const auto line = 1 + std::count(file.begin(), file.begin() + static_cast<std::ptrdiff_t>(at), '\n');
  return fmt::format(
      "readable part: line {} (byte {}) says \"{}\" where the data give \"{}\": the page was changed, or "
      "another "
      "version of this program made it",
      line, at, shown(std::string_view{file}.substr(at), 40), shown(std::string_view{ours}.substr(at), 40));
}

}  // namespace

std::string file_of(const Data& data) {
  const Proof proof = prove(data);
  if (!proof.faults.empty())
    throw refused(fmt::format(
        "no bundle is made of what does not hold: {}; nothing is written; look at the archive with "
        "'log verify' and 'archive check' (where a bed was deleted, ask for records after it)",
        proof.faults.front()));
  std::string text;
  try {
    text = to_text(data);
  } catch (const std::exception& e) {  // of the JSON library alone
    throw bad_input(fmt::format(
        "a text of the archive can not be written: {}; nothing is written; look at the archive with "
        "'archive check'",
        shown(e.what(), 120)));
  }
  std::string file = file_with(data, proof, text);
  if (file.size() > longest_file)
    throw bad_input(
        "the bundle would be longer than 64 MiB; ask for a bed, or for fewer records (--first, --last)");
  return file;
}

Examined examine(const std::string& file, const std::string& name) {
  const Parts parts = parts_of(file, name);
  const std::string printed = digest_on(parts.page);
  const std::string found = sha256_hex(parts.text);
  Examined e;
  if (printed != found)
    e.changed.push_back(
        fmt::format("data block: its SHA-256 is {}, the page says {}: one of both was changed", found,
                    shown(printed, 64)));
  e.data = from_text(parts.text, name);
  e.proof = prove(e.data);
  if (e.changed.empty()) {
    const std::string fault = page_fault(e, file, parts.text);
    if (!fault.empty()) e.changed.push_back(fault);
  }
  return e;
}

}  // namespace strandproof::host::bundle
