// The golden log was written by the Python end from proto/SPEC.md: what it calls a chain must be one here.
#include <gtest/gtest.h>

#include <algorithm>
#include <fstream>
#include <map>
#include <vector>

#include "host-tool/base/text.hpp"
#include "host-tool/proof/verify.hpp"

namespace strandproof::host::proof {
namespace {

using Block = std::map<std::string, std::string>;

std::vector<Block> blocks() {
  std::ifstream file{STRANDPROOF_TESTS_DIR "/../proto/golden/chain.txt"};
  std::vector<Block> out(1);
  for (std::string line; std::getline(file, line);) {
    if (line.empty() && !out.back().empty()) {
      out.emplace_back();
    } else if (!line.empty() && line[0] != '#') {
      out.back().emplace(line.substr(0, line.find(' ')), line.substr(line.find(' ') + 1));
    }
  }
  if (out.back().empty()) {
    out.pop_back();
  }
  return out;
}

proto::Key key_of(const std::string& hex) {
  proto::Key key{};
  const std::string bytes = *from_hex(hex);
  std::copy(bytes.begin(), bytes.end(), reinterpret_cast<char*>(key.data()));
  return key;
}

Question golden_log() {
  const auto all = blocks();
  const Block& keys = all.at(0);
  Question q;
  q.device = static_cast<std::uint32_t>(std::stoul(keys.at("device")));
  q.public_key = key_of(keys.at("public_key"));
  q.host = HostKey{std::stoull(keys.at("host_id")), proto::chain_key(key_of(keys.at("key")))};
  EXPECT_EQ(proto::chain_key(key_of(keys.at("key"))), key_of(keys.at("chain_key")));
  for (std::size_t i = 1; i < all.size(); ++i) {
    q.records.push_back({std::stoull(all[i].at("sequence")),
                         static_cast<std::uint32_t>(std::stoul(all[i].at("boot"))),
                         std::stoull(all[i].at("tick_ms")), *from_hex(all[i].at("body"))});
  }
  return q;
}

TEST(ProofGolden, TheLogThatPythonWroteHolds) {
  const Question q = golden_log();
  const Report r = verify(q);
  EXPECT_EQ(r.findings.size(), 0U) << (r.findings.empty() ? "" : r.findings[0].what);
  EXPECT_EQ(r.records, 9U);
  EXPECT_EQ(r.checkpoints, 3U);
  EXPECT_EQ(r.tags_checked, 6U);
  EXPECT_EQ(r.tags_unknown, 3U);
}

TEST(ProofGolden, ANumberThatACutLeftOutIsNoFindingAndARecordTakenOutIs) {
  Question q = golden_log();
  q.records.erase(q.records.begin() + 4);  // record 5; 7 was never there
  const Report r = verify(q);
  ASSERT_EQ(r.findings.size(), 1U);
  EXPECT_EQ(r.findings[0].kind, Kind::missing);
  EXPECT_EQ(r.findings[0].sequence, 6U);
}

}  // namespace
}  // namespace strandproof::host::proof
