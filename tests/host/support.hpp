// What several tests of the host tool share: a folder of their own, and the one line of a problem.
#pragma once

#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <string>

#include "host-tool/base/problem.hpp"

namespace strandproof::host::test {

class FolderTest : public testing::Test {
 protected:
  void SetUp() override {
    std::string folder = testing::TempDir() + "strandproof.XXXXXX";
    ASSERT_NE(mkdtemp(folder.data()), nullptr);
    folder_ = folder;
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }

  std::string folder_;
};

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

inline void expect_part(const std::string& text, const std::string& part) {
  EXPECT_NE(text.find(part), std::string::npos) << text;
}

// The first occurrence of a text in another one replaced; it must be there.
inline std::string replaced(std::string text, const std::string& from, const std::string& to) {
  const auto at = text.find(from);
  EXPECT_NE(at, std::string::npos) << from;
  return text.replace(at, from.size(), to);
}

}  // namespace strandproof::host::test
