// Table keys over the link: only with the person at the pendant, only for the fingerprint on the display.
// And the reads of the two slots.
#include <gtest/gtest.h>

#include "tests/link/forge.hpp"

namespace strandproof::link {
namespace {

using proto::FrameType;

std::string key_request(char fill, const std::string& name = "lab", std::size_t size = 32) {
  wire::TableKeyRequest r;
  r.set_name(name);
  r.set_key(std::string(size, fill));
  return r.SerializeAsString();
}

struct TableKeys : Hostile {
  wire::TableKeyReply ask_key(const std::string& request) {
    wire::TableKeyReply r;
    const auto got = host.send(FrameType::table_key_request, request);
    EXPECT_EQ(got.size(), 1U);
    EXPECT_TRUE(got.size() == 1 && got[0].first == FrameType::table_key_reply &&
                r.ParseFromString(got[0].second));
    return r;
  }
  static std::uint32_t n(Code c) { return static_cast<std::uint32_t>(c); }
};

TEST_F(TableKeys, NobodyEnrolsWithoutThePersonAtThePendant) {
  EXPECT_EQ(ask_key(key_request('a')).code(), n(Code::key_closed));
  jack.handler.enrolment = Code::none;
  EXPECT_TRUE(ask_key(key_request('a')).waiting());
  EXPECT_EQ(jack.handler.key_shown, "lab");
  EXPECT_EQ(jack.handler.enrolled, TableKey{});
  jack.session.refuse_key();
  EXPECT_EQ(jack.handler.key_shown, "");
  jack.session.confirm_key();  // too late: nothing waits any more
  EXPECT_EQ(jack.handler.enrolled, TableKey{});
  (void)host.answers();  // the one that said so
  jack.handler.enrolment = Code::key_closed;
  EXPECT_EQ(ask_key(key_request('a')).code(), n(Code::key_lapsed));
}

// Once for each that asks without an open window or room; a person who did not answer is no refusal.
TEST_F(TableKeys, ARefusalIsNoted) {
  const auto kind = static_cast<std::uint32_t>(FrameType::table_key_request);
  (void)ask_key(key_request('a'));
  jack.handler.enrolment = Code::keys_full;
  (void)ask_key(key_request('a'));
  EXPECT_EQ(jack.handler.refused,
            (decltype(jack.handler.refused){{kind, Code::key_closed}, {kind, Code::keys_full}}));
  jack.handler.enrolment = Code::none;
  (void)ask_key(key_request('a'));
  jack.session.refuse_key();
  (void)host.answers();
  jack.handler.enrolment = Code::key_closed;
  (void)ask_key(key_request('a'));
  EXPECT_EQ(jack.handler.refused.size(), 2U);
}

// The fingerprint is SHA-256 of the key, first 8 bytes: here by libsodium.
TEST_F(TableKeys, TheFingerprintIsThatOfTheKeyThatIsStored) {
  jack.handler.enrolment = Code::none;
  const wire::TableKeyReply r = ask_key(key_request('a'));
  const std::string key(32, 'a');
  std::uint8_t digest[32];
  crypto_hash_sha256(digest, reinterpret_cast<const std::uint8_t*>(key.data()), key.size());
  EXPECT_EQ(r.fingerprint(), std::string(reinterpret_cast<const char*>(digest), 8));
  jack.session.confirm_key();
  EXPECT_TRUE(std::equal(key.begin(), key.end(), jack.handler.enrolled.key.begin()));
  EXPECT_STREQ(jack.handler.enrolled.name.data(), "lab");
  (void)host.answers();
  const wire::TableKeyReply again = ask_key(key_request('a'));
  EXPECT_EQ(again.code(), 0U) << "a lost answer is asked for again";
  EXPECT_FALSE(again.waiting());
}

TEST_F(TableKeys, ASecondKeyCanNotReplaceTheOneOnTheDisplay) {
  jack.handler.enrolment = Code::none;
  EXPECT_TRUE(ask_key(key_request('a')).waiting());
  EXPECT_EQ(ask_key(key_request('b')).code(), n(Code::busy));
  EXPECT_EQ(ask_key(key_request('a', "other")).code(), n(Code::busy)) << "nor the name";
  wire::PairRequest p;
  p.set_host_id(5);
  p.set_key(std::string(32, 'k'));
  jack.handler.open = true;
  host.send(FrameType::pair_request, p.SerializeAsString());
  EXPECT_FALSE(jack.session.pairing_waits()) << "one question at a time";
  jack.session.confirm_key();
  EXPECT_EQ(jack.handler.enrolled.key[0], 'a');
}

TEST_F(TableKeys, AQuestionLapsesAndEndsWithItsSession) {
  jack.handler.enrolment = Code::none;
  EXPECT_TRUE(ask_key(key_request('a')).waiting());
  for (units::Ticks i = 0; i <= pairing_ticks; ++i) {
    jack.tick();
  }
  EXPECT_FALSE(jack.session.key_waits());
  (void)host.answers();
  EXPECT_TRUE(ask_key(key_request('a')).waiting());
  wire::Identify i;
  i.set_protocol_major(1);
  host.session = 0;
  host.send(FrameType::identify, i.SerializeAsString());
  EXPECT_FALSE(jack.session.key_waits());
  EXPECT_EQ(jack.handler.key_shown, "");
}

TEST_F(TableKeys, OddRequestsAreRefused) {
  jack.handler.enrolment = Code::none;
  for (const std::string& odd :
       {key_request('a', ""), key_request('a', std::string(16, 'n')), key_request('a', "lab", 31),
        key_request('a') + std::string("\x18\x01", 2), key_request('a', "l\x01b"), std::string{}}) {
    EXPECT_EQ(ask_key(odd).code(), n(Code::malformed));
  }
  jack.handler.enrolment = Code::keys_full;
  EXPECT_EQ(ask_key(key_request('a')).code(), n(Code::keys_full));
  EXPECT_FALSE(jack.session.key_waits());
}

TEST_F(TableKeys, NoEnrolmentDuringABlock) {
  jack.handler.enrolment = Code::none;
  for (int i = 0; i < 3; ++i) {
    wire::Sealed s = host.sealed(FrameType::clock_set, clock_body(5));
    s.mutable_tag()->at(0) ^= 1;
    host.ask(s);
  }
  EXPECT_EQ(ask_key(key_request('a')).code(), n(Code::blocked));
}

TEST_F(TableKeys, RefusedMessagesOfThePairedHostAreTold) {
  jack.handler.answer = Code::under_load;
  host.set_clock(5);
  EXPECT_EQ(host.ask(host.sealed(200, "")), Code::malformed);
  jack.handler.rest = false;
  wire::TableWithdraw w;
  w.set_revision(3);
  w.set_reason(1);
  EXPECT_EQ(host.ask(host.sealed(FrameType::table_withdraw, w.SerializeAsString())), Code::busy);
  wire::TableUndo u;
  EXPECT_EQ(host.ask(host.sealed(FrameType::table_undo, u.SerializeAsString())), Code::busy);
  using Refused = std::vector<std::pair<std::uint32_t, Code>>;
  EXPECT_EQ(jack.handler.refused,
            (Refused{{32, Code::under_load}, {200, Code::malformed}, {39, Code::busy}, {40, Code::busy}}));
  EXPECT_EQ(jack.handler.calls, std::vector<std::string>{"clock 5"});
}

TEST_F(TableKeys, SlotsAreReadWithoutAPairing) {
  wire::TableRead r;
  r.set_slot(2);
  const auto got = host.send(FrameType::table_read, r.SerializeAsString());
  ASSERT_EQ(got.size(), 1U);
  wire::Reply reply;
  ASSERT_TRUE(reply.ParseFromString(got[0].second));
  EXPECT_EQ(reply.code(), n(Code::no_such_slot));
  jack.handler.table.assign(200, 7);
  r.set_slot(1);
  r.set_index(1);
  const auto bytes = host.send(FrameType::table_read, r.SerializeAsString());
  ASSERT_EQ(bytes.size(), 1U);
  wire::TableBytes b;
  ASSERT_TRUE(b.ParseFromString(bytes[0].second));
  EXPECT_EQ(b.data(), std::string(40, '\x07'));
}

}  // namespace
}  // namespace strandproof::link
