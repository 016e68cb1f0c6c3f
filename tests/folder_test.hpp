// A folder of its own for a test, gone after it; and a part of a text that must be there.
#pragma once

#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <string>

namespace strandproof::test {

class FolderTest : public testing::Test {
 protected:
  void SetUp() override {
    std::string folder = testing::TempDir() + "strandproof.XXXXXX";
    ASSERT_NE(mkdtemp(folder.data()), nullptr);
    folder_ = folder;
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }

  std::string folder_;  // without a slash at its end
};

inline void expect_part(const std::string& text, const std::string& part) {
  EXPECT_NE(text.find(part), std::string::npos) << text;
}

}  // namespace strandproof::test
