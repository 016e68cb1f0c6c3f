// Pairing: only with the person at the pendant, only for the digits on the display.
#include <gtest/gtest.h>

#include "tests/link/forge.hpp"

namespace strandproof::link {
namespace {

using proto::FrameType;

std::string pair_request(const proto::HostKeys& k) {
  wire::PairRequest r;
  r.set_host_id(k.host_id);
  r.set_host_name("office");
  r.set_key(std::string{k.key.begin(), k.key.end()});
  return r.SerializeAsString();
}

wire::PairReply pair_reply(const std::vector<std::pair<FrameType, std::string>>& got) {
  wire::PairReply r;
  EXPECT_EQ(got.size(), 1U);
  EXPECT_TRUE(got.size() == 1 && got[0].first == FrameType::pair_reply && r.ParseFromString(got[0].second));
  return r;
}

TEST_F(Hostile, ASecondRequestCanNotReplaceTheOneOnTheDisplay) {
  jack.handler.open = true;
  EXPECT_TRUE(pair_reply(host.send(FrameType::pair_request, pair_request(host_keys(2)))).waiting());
  const std::uint32_t shown = jack.handler.shown;
  EXPECT_NE(shown, 0U);
  EXPECT_EQ(pair_reply(host.send(FrameType::pair_request, pair_request(host_keys(3)))).code(),
            static_cast<std::uint32_t>(Code::busy));
  EXPECT_EQ(jack.handler.shown, shown);
  jack.session.confirm_pairing();
  EXPECT_EQ(jack.handler.pairing.host_id, host_keys(2).host_id);
}

TEST_F(Hostile, NobodyPairsWithoutThePersonAtThePendant) {
  jack.handler.open = true;
  host.send(FrameType::pair_request, pair_request(host_keys(2)), 100);
  EXPECT_EQ(jack.handler.pairing.host_id, 0U);
  EXPECT_FALSE(jack.session.paired_with(host_keys(2).host_id));
  jack.session.refuse_pairing();
  EXPECT_EQ(jack.handler.shown, 0U);
  jack.session.confirm_pairing();  // too late: nothing waits any more
  EXPECT_EQ(jack.handler.pairing.host_id, 0U);
}

TEST_F(Hostile, APairingIsForTheSessionWhoseDigitsAreShown) {
  jack.handler.open = true;
  host.send(FrameType::pair_request, pair_request(host_keys(2)));
  host.session = 0;
  wire::Identify i;
  i.set_protocol_major(1);
  host.send(FrameType::identify, i.SerializeAsString());
  EXPECT_FALSE(jack.session.pairing_waits());
  EXPECT_EQ(jack.handler.shown, 0U);
}

TEST_F(Hostile, KeysOfOtherLengthsAreRefused) {
  jack.handler.open = true;
  wire::PairRequest r;
  r.set_host_id(5);
  r.set_key(std::string(31, 'k'));
  EXPECT_EQ(pair_reply(host.send(FrameType::pair_request, r.SerializeAsString())).code(),
            static_cast<std::uint32_t>(Code::malformed));
  EXPECT_FALSE(jack.session.pairing_waits());
}

}  // namespace
}  // namespace strandproof::link
