// Whoever changes a bundle with this program's own means, page and digests included, is found; each way by
// its name. What only a key or a head that is held elsewhere finds is shown as that.
#include <gmock/gmock.h>

#include <functional>

#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"
#include "tests/host/bundle_sample.hpp"
#include "tests/host/forged_log.hpp"

namespace strandproof::host::bundle {
namespace {

using testing::HasSubstr;

class BundleAttack : public test::FolderTest {
 protected:
  void SetUp() override {
    FolderTest::SetUp();
    sample_ = std::make_unique<Sample>(folder_);
  }
  // What is said of the file that was made of changed data, its page claiming that all is well.
  [[nodiscard]] std::string said(const std::function<void(Data&)>& change,
                                 const Scope& scope = {.jack = sample_jack}) const {
    Data data = sample_->data(scope, true);
    const Proof claimed = prove(data);
    EXPECT_TRUE(claimed.faults.empty());
    change(data);
    std::string told_of;
    const std::string refused_with =
        test::problem_of([&] { told_of = told(examine(forged(data, claimed), "b.html")); });
    return refused_with == "no problem" ? told_of : refused_with;
  }
  std::unique_ptr<Sample> sample_;
};

archive::StoredRecord& record(Data& d, std::uint64_t sequence) {
  return *std::ranges::find(d.records, sequence, &archive::StoredRecord::sequence);
}

TEST_F(BundleAttack, OnTheRecords) {
  EXPECT_EQ(said([](Data&) {}), "");
  EXPECT_THAT(said([](Data& d) { record(d, 6).body[3] ^= 1; }), HasSubstr("jack 1001, record 6: changed"));
  EXPECT_THAT(said([](Data& d) { record(d, 6).tick_ms += 1; }), HasSubstr("record 6: changed"));
  EXPECT_THAT(said([](Data& d) { record(d, 6).boot += 1; }), HasSubstr("record 6: changed"));
  EXPECT_THAT(said([](Data& d) { d.records.erase(d.records.begin() + 5); }),
              HasSubstr("record 7: records missing"));
  EXPECT_THAT(said([](Data& d) { d.records.pop_back(); }),
              HasSubstr("is the last one here, and the head in this file"));
  EXPECT_THAT(said([](Data& d) { d.records.erase(d.records.begin()); }),
              HasSubstr("record 2 is the first one here, and its log began with record 1"));
  EXPECT_THAT(said([](Data& d) { std::swap(d.records[4], d.records[5]); }),
              HasSubstr("is doubled or out of order"));
  EXPECT_THAT(said([](Data& d) { d.records.insert(d.records.begin() + 4, d.records[4]); }),
              HasSubstr("record 6 of 15 is doubled or out of order"));
  EXPECT_THAT(said([](Data& d) { std::swap(record(d, 6).body, record(d, 9).body); }),
              HasSubstr("record 6: "));
  EXPECT_THAT(said([](Data& d) { d.records.back().device = 4711; }), HasSubstr("which is none of its jacks"));
}

TEST_F(BundleAttack, OnTheRecordsOfAnotherJackUnderThisName) {
  proof::ChainMaker other{4711, 30};
  other.event(2);
  other.pair(proof::counting_key(9));
  const auto theirs = other.records();
  EXPECT_THAT(said([&](Data& d) { record(d, 2).body = theirs[1].body; }), HasSubstr("record 2: "));
  EXPECT_THAT(said([&](Data& d) {
                d.records.clear();
                for (const auto& r : theirs)
                  d.records.push_back({sample_jack, r.boot, r.sequence, r.tick_ms, r.body});
              }),
              HasSubstr("record 1: changed"));
}

// Links can be made by anyone: the signature of the next checkpoint stands against it.
TEST_F(BundleAttack, WithEveryLinkMadeAnew) {
  const auto change = [&](Data& d) {
    auto records = records_of(d, sample_jack);
    proof::other_force(records[1]);
    for (std::size_t i = 1; i < records.size(); ++i) {
      auto s = proof::seal_of(records[i].body)->seal;
      const auto b = proof::seal_of(records[i - 1].body)->seal;
      s.link = proof::link_of(sample_jack, records[i], s.epoch, s.gap, {b.link, b.tag});
      std::array<std::uint8_t, record::seal_size> bytes{};
      record::put_seal({.epoch = s.epoch, .gap = s.gap, .link = s.link, .tag = s.tag}, bytes);
      records[i].body.replace(records[i].body.size() - proof::seal_size, proof::seal_size,
                              reinterpret_cast<const char*>(bytes.data()), bytes.size());
      d.records[i].body = records[i].body;
    }
    d.jacks[0].head.reset();
    d.jacks[0].tag_keys.clear();
  };
  EXPECT_THAT(said(change), HasSubstr("record 4: checkpoint wrong: stands for another record"));
}

TEST_F(BundleAttack, OnWhatHoldsTheLog) {
  const Scope bed{.bed = 2};
  EXPECT_THAT(said([](Data& d) { d.jacks[0].before->link[5] ^= 1; }, bed), HasSubstr(": changed"));
  EXPECT_THAT(said([](Data& d) { d.jacks[0].before.reset(); }, bed), HasSubstr("readable part"))
      << "the page said that the first record follows from one before";
  EXPECT_THAT(said([](Data& d) { d.jacks[0].head->link[5] ^= 1; }),
              HasSubstr("is another one than the head in this file"));
  EXPECT_THAT(said([](Data& d) { (*d.jacks[0].head->public_key)[5] ^= 1; }),
              HasSubstr("its checkpoints are signed with key"));
  EXPECT_THAT(said([](Data& d) { d.jacks[0].tag_keys.begin()->second[3] ^= 1; }), HasSubstr("wrong tag"));
  EXPECT_THAT(said([](Data& d) { d.jacks[0].tag_keys.clear(); }), HasSubstr("readable part"));
}

// All signed anew with a key of the forger: the file is good in itself. Who knows the jack's key finds it.
TEST_F(BundleAttack, WithAKeyOfTheForgersAloneTheHeldKeyFindsIt) {
  proof::ChainMaker forger{sample_jack, 60};
  forger.event(2);
  forger.checkpoint();
  Data d = sample_->data();
  const proof::Head held = *d.jacks[0].head;
  d = Data{.scope = {.jack = sample_jack}, .jacks = {{.serial = sample_jack}}};
  for (const auto& r : forger.records())
    d.records.push_back({sample_jack, r.boot, r.sequence, r.tick_ms, r.body});
  EXPECT_TRUE(examine(file_of(d), "b.html").good());
  EXPECT_THAT(against_head(d, held, "the head that this computer holds"),
              HasSubstr("the head that this computer holds has"));
}

TEST_F(BundleAttack, OnTheTables) {
  const auto edit = [](Data& d) {
    d.tables[0].json = test::replaced(d.tables[0].json, "15000\n", "15001\n");
  };
  EXPECT_THAT(said(edit),
              HasSubstr("gauge table revision 2 of jack 1001: its points and dates are not those"));
  EXPECT_THAT(said([](Data& d) { d.tables[0].sha256_hex[0] = d.tables[0].sha256_hex[0] == '0' ? '1' : '0'; }),
              HasSubstr("its points and dates are not those"));
  const auto with_digest = [&](Data& d) {
    edit(d);
    d.tables[0].sha256_hex = d.history[0].sha256_hex =
        sha256_hex(check::held_bytes(sample_held(d.tables[0].json), 2));
  };
  EXPECT_THAT(said(with_digest), HasSubstr("its signature is not that of the key that it names"));
  EXPECT_THAT(said([](Data& d) { d.tables[0].json = "{"; }), HasSubstr("not a JSON file"));
  EXPECT_THAT(said([](Data& d) { d.history[0].details.clear(); }), HasSubstr("readable part"));
  const auto runs = [](Data& d) -> archive::Document& {
    return *std::ranges::find(d.documents, "runs.csv", &archive::Document::name);
  };
  EXPECT_THAT(said([&](Data& d) { runs(d).text[80] ^= 1; }),
              HasSubstr("kept file runs.csv: has other bytes"));
  // A table that its runs do not give, signed by the forger's own key: the runs are in the file.
  const auto not_of_its_runs = [&](Data& d) {
    with_digest(d);
    const std::string bytes = check::held_bytes(sample_held(d.tables[0].json), 2);
    const proto::TableKey key{proof::counting_key(90)};
    d.history[0].details = proof::text_of(
        {key.public_key(), key.sign({reinterpret_cast<const std::uint8_t*>(bytes.data()), bytes.size()})});
  };
  EXPECT_THAT(said(not_of_its_runs), HasSubstr("where the runs give"));
}

TEST_F(BundleAttack, OnInstructionsAndPlans) {
  const auto with = [](void (*change)(wire::PullInstruction&)) {
    return [change](Data& d) {
      wire::PullInstruction m;
      ASSERT_TRUE(m.ParseFromString(d.instructions[1].body));
      change(m);
      d.instructions[1].body = m.SerializeAsString();
    };
  };
  const auto not_pulled = HasSubstr("instruction 2 of jack 1001: is not what the jack's record");
  EXPECT_THAT(said(with([](auto& m) { m.set_jack_n(130'001); })), not_pulled);
  EXPECT_THAT(said(with([](auto& m) { m.set_limit_n(1); })), not_pulled);
  EXPECT_THAT(said(with([](auto& m) { m.set_reel(119); })), not_pulled);
  EXPECT_THAT(said(with([](auto& m) { m.set_elongation_um(360'002); })), not_pulled);
  EXPECT_THAT(said(with([](auto& m) { m.set_bed(3); })),
              HasSubstr("its bytes are not those of that instruction"));
  EXPECT_THAT(said([](Data& d) { d.instructions[1].body = "x"; }), HasSubstr("its bytes are not those"));
  EXPECT_THAT(said([](Data& d) { std::swap(d.instructions[0], d.instructions[1]); }),
              HasSubstr("out of order"));
  EXPECT_THAT(said([](Data& d) {
                std::ranges::find(d.documents, "plan.toml", &archive::Document::name)->text += "\n";
              }),
              HasSubstr("kept file plan.toml: has other bytes than its digest says"));
}

TEST_F(BundleAttack, OnWhatPeopleEntered) {
  EXPECT_THAT(said([](Data& d) { d.entries[0].words = "nothing"; }), HasSubstr("entry 1 was changed"));
  EXPECT_THAT(said([](Data& d) { d.entries.erase(d.entries.begin()); }), HasSubstr("entry 1 is missing"));
  EXPECT_THAT(said([](Data& d) { d.entries.pop_back(); }), HasSubstr("readable part"))
      << "the head stands on the page";
  EXPECT_THAT(said([](Data& d) { d.entries[0].withheld = true; }), HasSubstr("readable part"));
  const Scope bed{.bed = 1};  // the second entry is about another bed
  EXPECT_THAT(said([](Data& d) { d.entries[1].content_hex[0] ^= 1; }, bed),
              HasSubstr("entry 2 has another digest than its content"));
}

// Its entry is chained anew, as whoever writes the archive can.
TEST_F(BundleAttack, OnASignOffByOtherPulls) {
  std::string bodies;
  for (const auto& r : sample_->kept->find({.bed = 1})) bodies += r.body;
  sample_->kept->add(archive::SignOff{1, "engineer", sample_s, 2, 9, sha256_hex(bodies)});
  EXPECT_EQ(said([](Data&) {}), "");
  sample_->kept->add(archive::SignOff{1, "engineer", sample_s, 2, 9, sha256_hex(bodies + "x")});
  const auto e = prove(sample_->data());
  ASSERT_EQ(e.faults.size(), 1U);
  EXPECT_EQ(e.faults[0], "entry 5: the sign-off of bed 1 was for other pulls than those here");
}

TEST_F(BundleAttack, OnThePage) {
  const std::string file = file_of(sample_->data());
  const auto said_of = [](const std::string& changed) { return told(examine(changed, "b.html")); };
  EXPECT_THAT(said_of(test::replaced(file, "128.6 kN", "131.6 kN")), HasSubstr("says \"31.6 kN"));
  EXPECT_THAT(said_of(test::replaced(file, "<span>SIMULATED</span>", "<span></span>")),
              HasSubstr("readable part: line"));
  EXPECT_THAT(said_of(test::replaced(file, "default-src 'none'", "default-src *")),
              HasSubstr("readable part: line"));
  const auto digest = file.find(digest_mark) + std::string_view{digest_mark}.size();
  std::string other = file;
  other[digest] = other[digest] == '0' ? '1' : '0';
  EXPECT_THAT(said_of(other), HasSubstr("data block: its SHA-256 is"));
  EXPECT_THAT(
      said_of(test::replaced(file, data_begin, "<script>alert(1)</script>\n" + std::string{data_begin})),
      HasSubstr("readable part: line"));
}

TEST_F(BundleAttack, ByCuttingAnywhere) {
  const std::string file = file_of(sample_->data());
  for (std::size_t size = 0; size < file.size(); size += 1 + file.size() / 97) {
    EXPECT_THAT(test::problem_of([&] { (void)examine(file.substr(0, size), "b.html"); }),
                HasSubstr("b.html: is "))
        << size;
  }
  EXPECT_THAT(test::problem_of([&] { (void)examine(file.substr(0, file.size() - 1), "b.html"); }),
              HasSubstr("cut off"));
  EXPECT_THAT(test::problem_of([&] { (void)examine(file + "\n", "b.html"); }), HasSubstr("cut off, or"));
  EXPECT_THAT(test::problem_of([] { (void)examine("<html></html>", "b.html"); }),
              HasSubstr("is no strandproof bundle"));
}

TEST_F(BundleAttack, OfANewerOrAnotherForm) {
  const std::string file = file_of(sample_->data());
  const auto problem = [](const std::string& f) {
    return test::problem_of([&] { (void)examine(f, "b.html"); });
  };
  EXPECT_THAT(problem(test::replaced(file, "\"version\":1", "\"version\":2")),
              HasSubstr("made by a newer strandproof (form 2, this one knows 1); use the newer program"));
  EXPECT_THAT(problem(test::replaced(file, "\"format\":\"strandproof bundle\"", "\"format\":\"another\"")),
              HasSubstr("is no strandproof bundle"));
  EXPECT_THAT(problem(test::replaced(file, "\"version\":1", "\"version\": 1")),
              HasSubstr("is not in the form that this program writes"));
  EXPECT_THAT(problem(test::replaced(file, "\"seen\":[", "\"more\":[],\"seen\":[")),
              HasSubstr("is not in the form that this program writes"));
  EXPECT_THAT(problem(test::replaced(file, "\"documents\":", "\"papers\":")), HasSubstr("damaged or cut"));
  Data older = sample_->data();
  older.page = 0;
  EXPECT_THAT(told(examine(forged(older, prove(older)), "b.html")), HasSubstr("readable part: of form 0"));
}

}  // namespace
}  // namespace strandproof::host::bundle
