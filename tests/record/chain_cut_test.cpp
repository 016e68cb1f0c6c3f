// Power cuts at every word and erase of a life with records, checkpoints and a pairing, each with every
// damage: the chain that is then in flash must hold for the host's verifier (which shares no code with it),
// every record that was acknowledged must be in it, and no secret of an epoch that has ended may be left in
// the key pages.
#include <gtest/gtest.h>

#include <iostream>
#include <map>
#include <unordered_set>

#include "tests/host/chain_maker.hpp"

namespace strandproof::record {
namespace {

using host::proof::ChainMaker;
using test::Damage;
using test::NastyFlash;

constexpr std::uint32_t device = 4711;
constexpr std::uint32_t page_size = 1024;
constexpr std::uint64_t host_id = host::proof::maker_host;

proto::Key secret_of_jack() {
  return host::proof::counting_key(1);
}

// One boot of the jack over a flash that may lose its power at any time.
class Boot {
 public:
  // Appends to `acknowledged` what the log has taken, at once: a cut may come at any time.
  Boot(NastyFlash& flash, std::uint32_t boot, std::vector<std::uint64_t>& acknowledged)
      : acknowledged_{acknowledged}, flash_{flash}, boot_{boot} {
    ready_ = store_.mount() == Error::none;
    while (ready_ && store_.service()) {
    }
    log_.mount();
  }

  void event() {
    wire::Record r;
    r.mutable_event()->set_code(boot_);
    r.mutable_event()->set_force_n(static_cast<std::int32_t>(tick_ * 100));
    const std::string content = r.SerializeAsString();
    log_.add({reinterpret_cast<const std::uint8_t*>(content.data()), content.size()}, {boot_, ++tick_});
    log_.flush();
    keep();
  }
  void checkpoint() {
    host::proof::Checkpoint c;
    c.device = device;
    c.epoch = log_.epoch();
    c.covers = log_.point().sequence;
    c.link = log_.point().link;
    c.next_host = log_.coming_host();
    const std::string content = ChainMaker::signed_content(c, signer());
    (void)log_.end_epoch({reinterpret_cast<const std::uint8_t*>(content.data()), content.size()},
                         {boot_, ++tick_, Priority::fault});
    keep();
  }
  void pair() { (void)log_.take_pairing(host_id, proto::chain_key(host::proof::counting_key(7))); }
  void release() { log_.release(store_.last()); }

  [[nodiscard]] std::vector<host::proof::Record> records() {
    std::vector<host::proof::Record> out;
    RecordHeader header;
    std::array<std::uint8_t, record_body_max> body{};
    for (std::uint64_t from = 1;; from = header.sequence + 1) {
      const auto got = store_.read_from(from, header, body);
      if (got.error != Error::none) {
        return out;
      }
      out.push_back({header.sequence, header.boot, header.tick, {body.begin(), body.begin() + got.size}});
    }
  }
  [[nodiscard]] bool ready() const { return ready_; }
  [[nodiscard]] const ChainedLog& log() const { return log_; }

 private:
  [[nodiscard]] static const proto::TableKey& signer() {
    static const proto::TableKey key{host::proof::counting_key(101)};
    return key;
  }
  void keep() {
    if (log_.point().sequence != kept_) {
      kept_ = log_.point().sequence;
      acknowledged_.push_back(kept_);
    }
  }

  std::vector<std::uint64_t>& acknowledged_;
  NastyFlash& flash_;
  Store store_{flash_, {.base = 2 * page_size, .size = flash_.size() - 2 * page_size, .reserve_pages = 1}};
  KeyPages pages_{flash_, 0};
  ChainedLog log_{store_, pages_, device, secret_of_jack()};
  std::uint32_t boot_;
  std::uint64_t tick_ = 0;
  std::uint64_t kept_ = 0;
  bool ready_ = false;
};

NastyFlash make(std::uint32_t word_size) {
  return {24, page_size, word_size};
}

void one_boot(NastyFlash& flash, std::uint32_t number, std::vector<std::uint64_t>& acknowledged) {
  Boot boot{flash, number, acknowledged};
  boot.event();
  boot.checkpoint();
  boot.event();
  if (number == 2) {
    boot.pair();
    boot.event();
    boot.checkpoint();
  }
  boot.event();
  boot.checkpoint();
  boot.event();
}

void life(NastyFlash& flash, std::vector<std::uint64_t>& acknowledged) {
  for (std::uint32_t boot = 1; boot <= 4 && flash.powered(); ++boot) {
    one_boot(flash, boot, acknowledged);
  }
}

// Secrets of the epochs before `now`, as far as anyone outside the jack can work them out.
std::vector<Secret> ended(std::uint32_t now, std::uint32_t paired_from) {
  std::vector<Secret> out;
  Secret s = unpaired_secret(secret_of_jack(), 0);
  for (std::uint32_t e = 0; e < now; ++e) {
    out.push_back(s);
    s = e + 1 == paired_from
            ? host::proof::paired_secret(proto::chain_key(host::proof::counting_key(7)), device, e + 1)
            : next_secret(s);
  }
  return out;
}

// Words of eight bytes of these secrets that can be read in the key pages.
unsigned words_left(const NastyFlash& flash, const std::vector<Secret>& secrets) {
  const std::string_view pages = flash.image().substr(0, 2 * std::size_t{page_size});
  unsigned left = 0;
  for (const Secret& s : secrets) {
    for (std::size_t at = 0; at < s.size(); at += 8) {
      const std::string_view word{reinterpret_cast<const char*>(s.data()) + at, 8};
      left += pages.find(word) != std::string_view::npos ? 1 : 0;
    }
  }
  return left;
}

std::string told(const host::proof::Report& r) {
  std::string out;
  for (const auto& f : r.findings) {
    out += std::to_string(f.sequence) + " " + host::proof::name_of(f.kind) + ": " + f.what + "\n";
  }
  return out;
}

struct Totals {
  std::uint64_t cuts = 0, second_cuts = 0, lost = 0, broken = 0, secrets = 0, tags = 0;
  std::unordered_set<std::size_t> images;

  void see(const NastyFlash& flash) { images.insert(std::hash<std::string_view>{}(flash.image())); }
};

// One more boot with all that a boot does, and what is then in flash.
void look(NastyFlash& flash, std::vector<std::uint64_t>& acknowledged, Totals& totals,
          const std::string& where) {
  one_boot(flash, 9, acknowledged);
  flash.watch(nullptr);
  Boot boot{flash, 10, acknowledged};
  ASSERT_TRUE(boot.ready()) << where;
  host::proof::Question q;
  q.device = device;
  q.records = boot.records();
  q.host = host::proof::HostKey{host_id, proto::chain_key(host::proof::counting_key(7))};
  const auto report = host::proof::verify(q);
  totals.broken += report.findings.empty() ? 0 : 1;
  ASSERT_EQ(told(report), "") << where;
  totals.tags += report.tags_checked;
  for (const std::uint64_t sequence : acknowledged) {
    const bool there =
        std::ranges::find(q.records, sequence, &host::proof::Record::sequence) != q.records.end();
    totals.lost += there ? 0 : 1;
    ASSERT_TRUE(there) << where << ", record " << sequence;
  }
  ASSERT_TRUE(report.head.has_value()) << where;
  const unsigned left =
      words_left(flash, ended(boot.log().epoch(), report.head->our_epochs.value_or(UINT32_MAX)));
  totals.secrets += left;
  ASSERT_EQ(left, 0U) << where;
}

class ChainPowerCut : public testing::TestWithParam<std::uint32_t> {};
INSTANTIATE_TEST_SUITE_P(Words, ChainPowerCut, testing::Values(4U, 8U));

// Every so-many-th cut is followed by one at each step after it.
constexpr std::uint64_t second_cut_step = 500;

void cut(const NastyFlash& flash, const NastyFlash::Operation& next, Damage damage,
         const std::vector<std::uint64_t>& acknowledged, Totals& totals) {
  const std::uint64_t number = totals.cuts++;
  const std::string where = "damage " + std::to_string(static_cast<int>(damage)) + ", cut " +
                            std::to_string(flash.operations() + 1);
  NastyFlash torn = flash.cut_here(next, damage, number);
  totals.see(torn);
  std::vector<std::uint64_t> after = acknowledged;
  if (number % second_cut_step == 0) {
    torn.watch([&](const NastyFlash::Operation& then) {
      const std::uint64_t second = totals.second_cuts++;
      NastyFlash twice = torn.cut_here(then, test::all_damages[second % test::all_damages.size()], second);
      totals.see(twice);
      std::vector<std::uint64_t> known = after;
      look(twice, known, totals, where + ", then " + std::to_string(torn.operations() + 1));
    });
  }
  look(torn, after, totals, where);
}

TEST_P(ChainPowerCut, AfterEveryCutTheChainHoldsAndNoOldSecretIsLeft) {
  NastyFlash flash = make(GetParam());
  std::vector<std::uint64_t> acknowledged;
  Totals totals;
  flash.watch([&](const NastyFlash::Operation& next) {
    for (const Damage damage : test::all_damages) {
      if (!HasFailure()) {
        cut(flash, next, damage, acknowledged, totals);
      }
    }
  });
  life(flash, acknowledged);
  const std::uint64_t operations = flash.operations();
  EXPECT_EQ(acknowledged.size(), 26U);
  std::cout << "words of " << GetParam() << ": " << totals.cuts << " cuts = " << operations
            << " operations x " << test::all_damages.size() << " damages, " << totals.second_cuts
            << " second cuts in the recovery, " << totals.images.size() << " distinct images; chains broken "
            << totals.broken << ", acknowledged records lost " << totals.lost
            << ", words of old secrets left " << totals.secrets << "\n";
  EXPECT_EQ(totals.cuts, operations * test::all_damages.size());
  EXPECT_GT(totals.second_cuts, 2'000U);
  EXPECT_GT(totals.images.size(), operations);
  EXPECT_GT(totals.tags, totals.cuts) << "tags must have been looked at";
}

// Pages that refuse a header, a body, a seal or a commit word: the record is sealed anew under the next
// number and the chain holds, through every boot.
TEST(ChainRelocation, ARecordThatAPageHasRefusedGoesToAnotherOne) {
  NastyFlash flash = make(8);
  constexpr std::uint32_t log = 2 * page_size;
  for (const std::uint32_t at : {200U, page_size + 20U, 2 * page_size + 300U, 5 * page_size + 150U}) {
    flash.stick(log + at);
  }
  std::vector<std::uint64_t> acknowledged;
  life(flash, acknowledged);
  ASSERT_EQ(acknowledged.size(), 26U) << "every record of a sound flash";
  EXPECT_GE(acknowledged.back(), 26U + 3U) << "at least three were refused once";
  Totals totals;
  look(flash, acknowledged, totals, "with bad pages");
}

// The control: without the wiping the words are there, so that a count of none says something.
TEST(ChainSecrets, TheSearchFindsASecretThatIsThere) {
  NastyFlash flash = make(8);
  KeyPages pages{flash, 0};
  EpochKey key;
  EXPECT_FALSE(pages.mount(key));
  key.secret = unpaired_secret(secret_of_jack(), 0);
  ASSERT_TRUE(pages.store(key));
  EXPECT_EQ(words_left(flash, ended(1, UINT32_MAX)), 4U);
  key.epoch = 1;
  key.secret = next_secret(key.secret);
  ASSERT_TRUE(pages.store(key));
  EXPECT_EQ(words_left(flash, ended(1, UINT32_MAX)), 0U);
  EXPECT_EQ(words_left(flash, ended(2, UINT32_MAX)), 4U);
}

// Values go round both pages for ever, and each is the one that the next power on finds.
TEST(ChainSecrets, KeyPagesGoRound) {
  NastyFlash flash = make(4);
  EpochKey key;
  for (std::uint32_t e = 0; e < 100; ++e) {
    KeyPages pages{flash, 0};
    EpochKey found;
    EXPECT_EQ(pages.mount(found), e > 0);
    EXPECT_EQ(found, key);
    key.epoch = e + 1;
    key.secret = next_secret(key.secret);
    ASSERT_TRUE(pages.store(key));
  }
  EXPECT_GE(flash.erases(0) + flash.erases(1), 8U);
}

}  // namespace
}  // namespace strandproof::record
