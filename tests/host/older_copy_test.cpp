// An archive that is no longer what its jack was told of: set back by a copy of its file, by a server's dump,
// or exchanged under a program that has it open. Nothing of it is acknowledged, and nothing is lost.
#include <array>
#include <span>

#include "host-tool/archive/copy.hpp"
#include "host-tool/archive/store.hpp"
#include "host-tool/fetch/copies.hpp"
#include "proto/frame.hpp"
#include "tests/host/fetch_program.hpp"
#include "tests/host/postgres_server.hpp"

namespace strandproof::host::fetch {
namespace {

using testing::HasSubstr;

// How often the host says on the wire that it holds something, read from its sealed messages.
class Acknowledged {
 public:
  explicit Acknowledged(Desk& desk) : desk_{desk} {
    desk.on_sent = [this](std::span<const std::uint8_t> bytes) {
      for (const auto byte : bytes) {
        if (decoder_.push(byte)) take(decoder_.frame());
      }
    };
  }
  ~Acknowledged() { desk_.on_sent = {}; }
  Acknowledged(const Acknowledged&) = delete;
  Acknowledged& operator=(const Acknowledged&) = delete;

  int count() const {
    EXPECT_GT(frames_, 0) << "nothing was heard of this wire";
    return acknowledged_;
  }

 private:
  void take(const proto::Frame& frame) {
    ++frames_;
    wire::Sealed sealed;
    if (frame.header.type != proto::FrameType::sealed) return;
    ASSERT_TRUE(sealed.ParseFromArray(frame.payload.data(), static_cast<int>(frame.payload.size())));
    if (sealed.kind() == static_cast<std::uint32_t>(proto::FrameType::record_release)) ++acknowledged_;
  }

  Desk& desk_;
  std::array<std::uint8_t, proto::FrameDecoder::buffer_size> buffer_{};
  proto::FrameDecoder decoder_{buffer_};
  int frames_ = 0, acknowledged_ = 0;
};

// More is done at the jack, and comes into its log.
void work_on(Desk& d) {
  for (unsigned i = 0; i < 20; ++i) d.peer.set_clock(1'900'000'000 + i);
  ASSERT_TRUE(d.done());
  d.run(900);
}

std::string problem_of_fetch(Desk& d, const std::string& folder, const std::string& archive) {
  return test::problem_of([&] { (void)Program{d, folder, 1'000'000, archive}.fetch(); });
}

// The file of yesterday is copied over that of today. Were it acknowledged, or filled from where it ends, the
// jack would count what it does not hold.
TEST_F(FetchTest, AnOlderCopyOfAnArchiveIsAcknowledgedInNothingAndNothingIsLost) {
  Desk d;
  prepare(d);
  ASSERT_TRUE((Program{d, folder_, never}.fetch()));
  std::filesystem::copy_file(folder_ + "/archive.sqlite", folder_ + "/yesterday.sqlite");
  const auto yesterday = held();
  work_on(d);
  ASSERT_TRUE((Program{d, folder_, never}.fetch()));
  const auto told = status_of(d).copies(0).up_to();
  work_on(d);
  std::filesystem::copy_file(folder_ + "/yesterday.sqlite", folder_ + "/archive.sqlite",
                             std::filesystem::copy_options::overwrite_existing);
  const auto log = log_of(d);
  {
    const Acknowledged wire{d};
    for (int again = 0; again < 2; ++again) {
      const auto said = problem_of_fetch(d, folder_, "archive.sqlite");
      EXPECT_THAT(said,
                  testing::AllOf(HasSubstr("archive.sqlite: is an older copy"),
                                 HasSubstr("up to " + std::to_string(told)),
                                 HasSubstr("up to " + std::to_string(yesterday.size())),
                                 HasSubstr("archive backup -o NEW.sqlite"), HasSubstr("COPIES OF THE LOG")));
    }
    EXPECT_EQ(wire.count(), 0);
  }
  EXPECT_EQ(held(), yesterday) << "as it was, and to be read";
  EXPECT_EQ(status_of(d).copies(0).up_to(), told);
  // What the line says is to be done.
  (void)archive::back_up(archive::Archive{folder_ + "/archive.sqlite"}, folder_ + "/new.sqlite");
  const Acknowledged wire{d};
  ASSERT_TRUE((Program{d, folder_, never, "new.sqlite"}.fetch()));
  EXPECT_EQ(wire.count(), 1);
  EXPECT_EQ(held("new.sqlite"), log) << "from the first to the last";
  EXPECT_EQ(status_of(d).copies_size(), 2);
}

// A backup that takes the archive's place, by the tool or by hand, is no older copy: it has an identity of
// its own. Nor is the whole file where it was carried to.
TEST_F(FetchTest, ABackupARestoreAndAMoveAreNoOlderCopies) {
  Desk d;
  prepare(d);
  ASSERT_TRUE((Program{d, folder_, never}.fetch()));
  (void)archive::back_up(archive::Archive{folder_ + "/archive.sqlite"}, folder_ + "/backup.sqlite");
  work_on(d);
  ASSERT_TRUE((Program{d, folder_, never}.fetch()));
  std::filesystem::rename(folder_ + "/archive.sqlite", folder_ + "/carried.sqlite");
  (void)archive::restore(folder_ + "/backup.sqlite", folder_ + "/archive.sqlite");
  work_on(d);
  for (const char* name : {"archive.sqlite", "carried.sqlite", "backup.sqlite"}) {
    ASSERT_TRUE((Program{d, folder_, never, name}.fetch())) << name;
    EXPECT_EQ(held(name).size(), log_of(d).size()) << name;
  }
}

// What a dump of yesterday leaves of a server's archive.
TEST_F(FetchTest, AnOlderStateOfAServersArchiveIsAcknowledgedInNothing) {
  const archive::PostgresServer server;
  Desk d;
  prepare(d);
  ASSERT_TRUE((Program{d, folder_, never, server.url()}.fetch()));
  (void)server.value("drop trigger record_kept on record");
  (void)server.value("delete from record where sequence > 100");
  work_on(d);
  const Acknowledged wire{d};
  const auto said = problem_of_fetch(d, folder_, server.url());
  EXPECT_THAT(said, testing::AllOf(HasSubstr("is an older copy"), HasSubstr("this one up to 100")));
  EXPECT_EQ(wire.count(), 0);
  EXPECT_EQ(server.value("select max(sequence) from record"), "100");
}

// The program has it open, and goes on: what it writes has no name any more.
TEST_F(FetchTest, AnArchiveThatIsExchangedWhileItIsOpenIsAcknowledgedInNothing) {
  Desk d;
  prepare(d);
  ASSERT_TRUE((Program{d, folder_, never}.fetch()));
  std::filesystem::copy_file(folder_ + "/archive.sqlite", folder_ + "/yesterday.sqlite");
  work_on(d);
  Program open{d, folder_, never};
  std::filesystem::rename(folder_ + "/yesterday.sqlite", folder_ + "/archive.sqlite");
  const Acknowledged wire{d};
  EXPECT_THAT(test::problem_of([&] { (void)open.fetch(); }),
              HasSubstr("another one was put in its place while it was open"));
  EXPECT_EQ(wire.count(), 0);
}

// Set back under an open program, with nothing to be entered: what it knew to be held no longer is.
TEST_F(FetchTest, AnArchiveThatIsSetBackWhileItIsOpenIsAcknowledgedInNothing) {
  Desk d;
  prepare(d);
  ASSERT_TRUE((Program{d, folder_, never}.fetch()));
  archive::Archive kept{folder_ + "/archive.sqlite"};
  const Intake intake{folder_ + "/keys", app::bench_keys(), kept, 7};
  EXPECT_EQ(intake.durable_up_to(), kept.last_sequence(7));
  kept.store().run("drop trigger record_kept");
  kept.store().run("delete from record where sequence > 100");
  EXPECT_THAT(test::problem_of([&] { (void)intake.durable_up_to(); }),
              HasSubstr("set back while it was open"));
}

// A jack counts what was deleted after the minimum age: it was held.
TEST_F(FetchTest, ARecordThatWasDeletedAfterTheMinimumAgeMakesNoOlderCopy) {
  archive::Archive kept{folder_ + "/archive.sqlite"};
  kept.add(std::vector<archive::StoredRecord>{{7, 1, 40, 1, "x"}, {7, 1, 41, 2, "y"}});
  wire::Status status;
  auto& copy = *status.add_copies();
  copy.set_id(kept.identity().id);
  copy.set_up_to(41);
  kept.store().run("insert into removed (device, sequence, boot, sha256, entry) values (7, 41, 1, 'ab', 1)");
  kept.store().run("delete from record where sequence = 41");
  EXPECT_EQ(older_copy(kept, 7, status), "");
  copy.set_up_to(42);
  EXPECT_NE(older_copy(kept, 7, status), "");
}

}  // namespace
}  // namespace strandproof::host::fetch
