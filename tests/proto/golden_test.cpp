// The C++ end against the golden files, which the Python end has written: both ways.
#include "tests/proto/golden.hpp"

#include <google/protobuf/util/message_differencer.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "proto/lockstep.hpp"
#include "proto/peer/peer.hpp"
#include "proto/peer/seal.hpp"

namespace strandproof::proto {
namespace {

using google::protobuf::FieldDescriptor;
using google::protobuf::Message;

std::uint32_t u32(const std::string& s) {
  return static_cast<std::uint32_t>(std::stoul(s));
}

std::unique_ptr<Message> new_message(const std::string& name) {
  const auto* d = wire::Identify::descriptor()->file()->FindMessageTypeByName(name);
  if (d == nullptr) {
    throw std::runtime_error{"no message " + name};
  }
  return std::unique_ptr<Message>{
      google::protobuf::MessageFactory::generated_factory()->GetPrototype(d)->New()};
}

// Sets the fields of a message from the golden file's JSON, where bytes are hex.
void fill(Message& m, const nlohmann::json& fields) {
  const auto* r = m.GetReflection();
  for (const auto& [name, value] : fields.items()) {
    const FieldDescriptor* f = m.GetDescriptor()->FindFieldByName(name);
    ASSERT_NE(f, nullptr) << name;
    if (f->is_repeated() && f->type() == FieldDescriptor::TYPE_MESSAGE) {
      for (const auto& v : value) {
        fill(*r->AddMessage(&m, f), v);
      }
      continue;
    }
    if (f->is_repeated()) {
      for (const auto& v : value) {
        f->type() == FieldDescriptor::TYPE_STRING   ? r->AddString(&m, f, v.get<std::string>())
        : f->type() == FieldDescriptor::TYPE_UINT32 ? r->AddUInt32(&m, f, v.get<std::uint32_t>())
                                                    : r->AddInt32(&m, f, v.get<std::int32_t>());
      }
      continue;
    }
    switch (f->type()) {
      case FieldDescriptor::TYPE_UINT32:
        r->SetUInt32(&m, f, value.get<std::uint32_t>());
        break;
      case FieldDescriptor::TYPE_UINT64:
        r->SetUInt64(&m, f, value.get<std::uint64_t>());
        break;
      case FieldDescriptor::TYPE_SINT32:
        r->SetInt32(&m, f, value.get<std::int32_t>());
        break;
      case FieldDescriptor::TYPE_BOOL:
        r->SetBool(&m, f, value.get<bool>());
        break;
      case FieldDescriptor::TYPE_STRING:
        r->SetString(&m, f, value.get<std::string>());
        break;
      case FieldDescriptor::TYPE_MESSAGE:
        fill(*r->MutableMessage(&m, f), value);
        break;
      case FieldDescriptor::TYPE_BYTES:
        r->SetString(&m, f, raw_text(value.get<std::string>()));
        break;
      default:
        FAIL() << "a golden field of a type that this test does not know: " << name;
    }
  }
}

std::vector<std::vector<std::uint8_t>> payloads(const std::vector<std::uint8_t>& bytes,
                                                FrameHeader* last = nullptr) {
  std::array<std::uint8_t, FrameDecoder::buffer_size> buffer{};
  FrameDecoder d{buffer};
  std::vector<std::vector<std::uint8_t>> out;
  for (const std::uint8_t b : bytes) {
    if (d.push(b)) {
      out.emplace_back(d.frame().payload.begin(), d.frame().payload.end());
      if (last != nullptr) {
        *last = d.frame().header;
      }
    }
  }
  return out;
}

TEST(Golden, FramesMeanWhatTheySay) {
  for (const Block& b : golden("frames.txt")) {
    const auto payload = raw(b.at("payload"));
    FrameHeader h;
    EXPECT_EQ(payloads(raw(b.at("frame")), &h), (std::vector<std::vector<std::uint8_t>>{payload}))
        << b.at("what");
    EXPECT_EQ(static_cast<unsigned>(h.type), u32(b.at("type")));
    EXPECT_EQ(h.device, u32(b.at("device")));
    EXPECT_EQ(h.session, u32(b.at("session")));
    EXPECT_EQ(h.sequence, u32(b.at("sequence")));

    auto wanted = new_message(b.at("message"));
    fill(*wanted, nlohmann::json::parse(b.at("fields")));
    EXPECT_EQ(wanted->SerializeAsString(), raw_text(b.at("payload"))) << b.at("what");
    auto got = new_message(b.at("message"));
    ASSERT_TRUE(got->ParseFromString(raw_text(b.at("payload"))));
    EXPECT_TRUE(google::protobuf::util::MessageDifferencer::Equals(*wanted, *got)) << b.at("what");

    std::vector<std::uint8_t> frame(frame_max);
    frame.resize(encode_frame(h, payload, frame));
    EXPECT_EQ(frame, raw(b.at("frame"))) << b.at("what");
  }
}

TEST(Golden, RefusedBytesAreRefusedAndTheNextFrameIsTaken) {
  std::vector<std::uint8_t> good(frame_max);
  good.resize(encode_frame({.type = FrameType::status_get}, {}, good));
  for (const Block& b : golden("refused.txt")) {
    auto bytes = raw(b.at("bytes"));
    EXPECT_TRUE(payloads(bytes).empty()) << b.at("why");
    bytes.insert(bytes.end(), good.begin(), good.end());
    EXPECT_EQ(payloads(bytes).size(), 1U) << b.at("why");
  }
}

TEST(Golden, SealedMessagesHaveTheirTags) {
  const auto blocks = golden("sealed.txt");
  const Block& pairing = blocks.at(0);
  HostKeys keys;
  const auto key = raw(pairing.at("key"));
  std::copy(key.begin(), key.end(), keys.key.begin());
  const Key made = seal_key(keys.key);
  EXPECT_EQ((std::vector<std::uint8_t>{made.begin(), made.end()}), raw(pairing.at("seal_key")));
  Key table_key{};
  const auto table_key_bytes = raw(pairing.at("table_key"));
  std::copy(table_key_bytes.begin(), table_key_bytes.end(), table_key.begin());
  const Fingerprint mark = fingerprint_of(table_key);
  EXPECT_EQ((std::vector<std::uint8_t>{mark.begin(), mark.end()}), raw(pairing.at("fingerprint")));
  const auto nonce = raw(pairing.at("nonce"));
  EXPECT_EQ(check_digits(keys, u32(pairing.at("device")), nonce), u32(pairing.at("check")));
  ASSERT_EQ(blocks.size(), 10U);  // the nine kinds
  for (std::size_t i = 1; i < blocks.size(); ++i) {
    const Block& b = blocks[i];
    keys.host_id = std::stoull(b.at("host_id"));
    auto body = new_message(b.at("what"));
    fill(*body, nlohmann::json::parse(b.at("fields")));
    EXPECT_EQ(body->SerializeAsString(), raw_text(b.at("body"))) << b.at("what");
    const std::string payload = seal(keys,
                                     {.device = u32(pairing.at("device")),
                                      .nonce = nonce,
                                      .counter = u32(b.at("counter")),
                                      .valid_until_ms = std::stoull(b.at("valid_until_ms"))},
                                     static_cast<FrameType>(u32(b.at("kind"))), raw_text(b.at("body")));
    EXPECT_EQ(payload, raw_text(b.at("payload"))) << b.at("what");
  }
}

TEST(Golden, LockStepFrames) {
  const auto blocks = golden("lockstep.txt");
  ASSERT_EQ(blocks.size(), 4U);
  lockstep::Sample s{.tick = u32(blocks[0].at("tick")),
                     .analog = {},
                     .digital = static_cast<std::uint16_t>(u32(blocks[0].at("digital")))};
  std::istringstream analog{blocks[0].at("analog")};
  for (std::uint16_t& a : s.analog) {
    analog >> a;
  }
  std::array<std::uint8_t, lockstep::sample_size> sample{};
  lockstep::encode(s, sample);
  std::vector<std::uint8_t> whole{lockstep::kind_sample};
  whole.insert(whole.end(), sample.begin(), sample.end());
  EXPECT_EQ(whole, raw(blocks[0].at("frame")));

  const auto byte = [&](const char* name) { return static_cast<std::uint8_t>(u32(blocks[1].at(name))); };
  const lockstep::Answer a{.tick = static_cast<std::uint16_t>(u32(blocks[1].at("tick"))),
                           .outputs = byte("outputs"),
                           .state = byte("state"),
                           .cause = byte("cause"),
                           .load_state = byte("load_state")};
  std::array<std::uint8_t, lockstep::answer_size> answer{};
  lockstep::encode(a, answer);
  EXPECT_EQ((std::vector<std::uint8_t>{answer.begin(), answer.end()}), raw(blocks[1].at("frame")));

  EXPECT_EQ(raw(blocks[2].at("frame")), (std::vector<std::uint8_t>{lockstep::kind_link, 4, 0, 0, 1, 2, 255}));
  EXPECT_EQ(raw(blocks[3].at("frame")), (std::vector<std::uint8_t>{lockstep::kind_sent, 0, 0}));
}

}  // namespace
}  // namespace strandproof::proto
