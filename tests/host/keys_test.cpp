// Keys of the host: made once, read by their owner alone. Table files: back as they went, and bad ones named.
#include "host-tool/keys/keys.hpp"

#include <gtest/gtest.h>
#include <sys/stat.h>
#include <unistd.h>

#include <filesystem>
#include <string>

#include "host-tool/base/files.hpp"
#include "host-tool/base/problem.hpp"
#include "host-tool/gauge/table_file.hpp"
#include "tests/host/rig_text.hpp"
#include "tests/host/support.hpp"

namespace strandproof::host {
namespace {

using test::expect_part;
using test::FolderTest;
using test::problem_of;

class KeysTest : public FolderTest {
 protected:
  void SetUp() override {
    FolderTest::SetUp();
    keys_ = folder_ + "/keys";
  }
  std::string keys_;
};

TEST_F(KeysTest, AreMadeOnceAndForTheirOwnerAlone) {
  expect_part(problem_of([&] { (void)keys::load(keys_); }),
              "make this host's keys with 'strandproof key new'");
  keys::make(keys_, "office");
  const auto k = keys::load(keys_);
  EXPECT_NE(k.host_id, 0U);
  EXPECT_EQ(k.name, "office");
  for (const char* name : {"host.id", "pairing.key"}) {
    struct stat info {};
    ASSERT_EQ(::stat((keys_ + "/" + name).c_str(), &info), 0);
    EXPECT_EQ(info.st_mode & 0777U, 0600U) << name;
  }
  expect_part(problem_of([&] { keys::make(keys_, "office"); }), "never written over");
  EXPECT_EQ(keys::load(keys_).key, k.key);
}

TEST_F(KeysTest, TwoHostsShareNothing) {
  keys::make(keys_, "one");
  keys::make(keys_ + "2", "two");
  const auto one = keys::load(keys_);
  const auto two = keys::load(keys_ + "2");
  EXPECT_NE(one.host_id, two.host_id);
  EXPECT_NE(one.key, two.key);
}

TEST_F(KeysTest, OpenOrDamagedKeysAreRefused) {
  keys::make(keys_, "office");
  const std::string file = keys_ + "/pairing.key";
  ASSERT_EQ(::chmod(file.c_str(), 0640), 0);
  expect_part(problem_of([&] { (void)keys::load(keys_); }), "others may read it");
  write_file(file, "00ff\n", 0600);
  expect_part(problem_of([&] { (void)keys::load(keys_); }), "damaged");
  expect_part(problem_of([&] { keys::make(folder_ + "/x", ""); }), "1 to 31 plain ASCII characters");
}

gauge::Table some_table() {
  return gauge::make_table(gauge::read_runs(test::ideal_jack(3, 20.0), "runs.csv"), {});
}

TEST(TableFile, ComesBackAsItWent) {
  const auto table = some_table();
  const auto wrote = gauge::held(table);
  const auto read = gauge::from_json(gauge::to_json(table, {"runs.csv", "00"}), "table.json");
  EXPECT_EQ(read.jack_serial, wrote.jack_serial);
  EXPECT_EQ(read.sensor_serial, wrote.sensor_serial);
  EXPECT_EQ(read.origin, wrote.origin);
  EXPECT_EQ(read.calibrated_s, wrote.calibrated_s);
  EXPECT_EQ(read.due_s, wrote.due_s);
  EXPECT_EQ(read.class_tenths, wrote.class_tenths);
  EXPECT_EQ(read.uncertainty_ppm, wrote.uncertainty_ppm);
  EXPECT_EQ(read.increasing, wrote.increasing);
  EXPECT_EQ(read.decreasing, wrote.decreasing);
}

TEST(TableFile, BadOnesAreNamedByField) {
  struct Mistake {
    const char *from, *to, *what;
  };
  const Mistake mistakes[] = {
      {"{", "[", "not a JSON file"},
      {"\"strandproof gauge table\"", "\"other\"", "field 'format' is not that of a gauge table"},
      {"\"version\": 1", "\"version\": 2", "field 'version' is not a whole number from 1 to 1"},
      {"\"jack_serial\": 1001", "\"jack_serial\": -1", "field 'jack_serial' is not a whole number"},
      {"\"jack_serial\"", "\"jack\"", "field 'jack_serial' is missing"},
      {"\"simulated\"", "\"real\"", "field 'origin' is none of"},
      {"2026-05-04", "2026-15-04", "field 'calibrated' is not a time"},
      {"\"due\": \"2026", "\"due\": \"2020", "field 'due' is not after the calibration"},
      {"\"a_increasing\"", "\"a_rising\"", "field 'a_increasing' is missing"},
      {"\"points_mbar_n\": [", "\"points_mbar_n\": [[1, 2], [1, 3], ", "does not rise at 1 mbar"},
      {"\"points_mbar_n\": [", "\"points_mbar_n\": [[1.5, 2], ", "not two whole numbers"},
  };
  const std::string good = gauge::to_json(some_table(), {"runs.csv", "00"});
  for (const auto& m : mistakes) {
    auto text = good;
    const auto at = text.find(m.from);
    ASSERT_NE(at, std::string::npos) << m.from;
    text.replace(at, std::string{m.from}.size(), m.to);
    const auto message = problem_of([&] { (void)gauge::from_json(text, "table.json"); });
    EXPECT_TRUE(message.starts_with("table.json: ")) << message;
    expect_part(message, m.what);
  }
}

}  // namespace
}  // namespace strandproof::host
