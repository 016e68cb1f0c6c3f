// What several tests of the host tool share: a folder of their own, and the one line of a problem.
#pragma once

#include <gtest/gtest.h>

#include <string>

#include "host-tool/base/problem.hpp"
#include "tests/folder_test.hpp"

namespace strandproof::host::test {

using strandproof::test::expect_part;
using strandproof::test::FolderTest;

// What the work is refused with, always one line; "no problem" if it is not.
template <class Work>
std::string problem_of(Work work) {
  try {
    work();
  } catch (const Problem& p) {
    EXPECT_EQ(std::string{p.what()}.find('\n'), std::string::npos) << p.what();
    return p.what();
  }
  return "no problem";
}

// The first occurrence of a text in another one replaced; it must be there.
inline std::string replaced(std::string text, const std::string& from, const std::string& to) {
  const auto at = text.find(from);
  EXPECT_NE(at, std::string::npos) << from;
  return text.replace(at, from.size(), to);
}

}  // namespace strandproof::host::test
