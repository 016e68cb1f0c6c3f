// Bytes of a bundle with one bit of them flipped, one of the 8 bits in turn: every byte of the data block and
// of what is around it, every eighth of the page. Each is found.
#include <cstdio>

#include "host-tool/base/problem.hpp"
#include "tests/host/bundle_sample.hpp"

namespace strandproof::host::bundle {
namespace {

using BundleFlips = test::FolderTest;

TEST_F(BundleFlips, OneBitOfEachByteIsFound) {
  const Sample sample{folder_, {.small = true}};
  const std::string file = file_of(sample.data());
  const auto whole = examine(file, "b.html");
  ASSERT_TRUE(whole.good()) << told(whole);
  const std::size_t page = file.find(data_begin);
  std::size_t unreadable = 0, refused = 0, missed = 0;
  for (std::size_t at = 0; at < file.size(); at += at < page ? 8 : 1) {
    std::string other = file;
    other[at] = static_cast<char>(other[at] ^ (1 << (at < page ? at / 8 : at) % 8));
    try {
      examine(other, "b.html").good() ? ++missed : ++refused;
    } catch (const Problem&) {
      ++unreadable;
    }
  }
  std::printf("page %zu bytes, data block %zu: refused as changed %zu, as damaged %zu, missed %zu\n", page,
              file.size() - page, refused, unreadable, missed);
  EXPECT_EQ(missed, 0U);
  EXPECT_GT(refused, page / 8);
  EXPECT_GT(unreadable, 1000U);
}

}  // namespace
}  // namespace strandproof::host::bundle
