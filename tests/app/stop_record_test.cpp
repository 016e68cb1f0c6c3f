// What a stop is called on record: a row of the hazard list only where it is one. And every number that a
// record may carry has words in the catalogue.
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <string_view>

#include "tests/app/app_bench.hpp"

namespace strandproof::app {
namespace {

struct Named {
  std::uint32_t number;
  std::string_view id;
};

constexpr Named causes[] = {
#define CAUSE(number, id, what, remedy) {number, #id},
#include "proto/catalogue.def"
};

// h01_..., h47_...: rows of the hazard list are called by their number there.
bool is_row(std::string_view id) {
  return id.size() > 4 && id[0] == 'h' && std::isdigit(static_cast<unsigned char>(id[1])) != 0 &&
         std::isdigit(static_cast<unsigned char>(id[2])) != 0 && id[3] == '_';
}

TEST(StopRecord, OnlyARowOfTheHazardListIsCalledOne) {
  for (const Named& c : causes) {
    if (c.number != 0) {
      const EventCode e = trip_event(static_cast<control::Cause>(c.number));
      EXPECT_EQ(e == EventCode::trip, is_row(c.id)) << c.id;
      EXPECT_EQ(e == EventCode::emergency_stop, c.id == "emergency_stop") << c.id;
    }
  }
}

struct Pressed {
  port::Input channel;
  EventCode wanted;
  control::Cause cause;
};

TEST(StopRecord, TheEmergencyStopIsOnRecordByItsOwnName) {
  using control::Cause;
  for (const Pressed& p :
       {Pressed{port::Input::emergency_stop_1, EventCode::emergency_stop, Cause::emergency_stop},
        Pressed{port::Input::barrier_1, EventCode::trip, Cause::h47_barrier_open}}) {
    Desk d;
    d.menu(1);
    ASSERT_EQ(d.state, static_cast<std::uint8_t>(control::State::set_up));
    d.open = port::bit(p.channel);
    d.run(20);
    d.open = 0;
    const auto all = d.events();
    const auto count = [&](EventCode code) {
      return std::count_if(all.begin(), all.end(), [&](const Desk::Event& e) {
        return e.code == static_cast<std::uint32_t>(code) && e.detail == static_cast<std::uint32_t>(p.cause);
      });
    };
    EXPECT_EQ(count(p.wanted), 1);
    EXPECT_EQ(count(EventCode::trip) + count(EventCode::emergency_stop), 1) << "and by no other";
  }
}

// ---- words

constexpr Named messages[] = {
#define MESSAGE(number, id, text) {number, #id},
#include "proto/catalogue.def"
};

std::string_view message_id(std::uint32_t number) {
  const auto* m = std::find_if(std::begin(messages), std::end(messages),
                               [&](const Named& named) { return named.number == number; });
  return m == std::end(messages) ? std::string_view{} : m->id;
}

// SPEC.md, section 3: the kinds are 32 to 40, and these.
TEST(Words, EveryKindOfASealedMessageHasThem) {
  using enum proto::FrameType;
  const std::array<std::pair<proto::FrameType, std::string_view>, 9> spec{
      {{clock_set, "clock_set"},
       {table_begin, "table_begin"},
       {table_chunk, "table_chunk"},
       {table_commit, "table_commit"},
       {pull_instruction, "pull_instruction"},
       {bed_entry, "bed_entry"},
       {record_release, "record_release"},
       {table_withdraw, "table_withdraw"},
       {table_undo, "table_undo"}}};
  for (const auto& [kind, id] : spec) {
    EXPECT_EQ(message_id(static_cast<std::uint32_t>(kind)), id);
  }
  EXPECT_EQ(std::size(messages), spec.size());
}

constexpr std::string_view words[] = {
#define STATE(number, id, text) text,
#define LOAD(number, id, text) text,
#define VERDICT(number, id, text) text,
#define TABLE(number, id, text) text,
#define REASON(number, id, text) text,
#define PART(number, id, text) text,
#define ENTRY(number, id, text) text,
#define MESSAGE(number, id, text) text,
#define EVENT(number, id, text, detail) text, detail,
#include "proto/catalogue.def"
};
struct Pair {
  std::uint32_t number;
  std::string_view why, remedy;
};
constexpr Pair pairs[] = {
#define CAUSE(number, id, what, remedy) {number, what, remedy},
#define REFUSAL(number, id, why, remedy) {number, why, remedy},
#include "proto/catalogue.def"
};

TEST(Words, NoNumberIsWithoutWordsAndNoReasonWithoutARemedy) {
  for (const std::string_view text : words) {
    EXPECT_FALSE(text.empty());
  }
  for (const Pair& p : pairs) {
    EXPECT_EQ(p.why.empty(), p.number == 0) << p.number;
    EXPECT_EQ(p.remedy.empty(), p.number == 0) << p.number;
  }
}

}  // namespace
}  // namespace strandproof::app
