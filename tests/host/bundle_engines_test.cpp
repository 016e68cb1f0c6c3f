// The same archive on SQLite and on a real PostgreSQL: the same bundle to the byte.
#include "host-tool/archive/copy.hpp"
#include "tests/host/bundle_sample.hpp"
#include "tests/host/postgres_server.hpp"

namespace strandproof::host::bundle {
namespace {

using BundleEngines = test::FolderTest;

TEST_F(BundleEngines, FromBothTheSameBytes) {
  const Sample sample{folder_};
  (void)archive::back_up(*sample.kept, folder_ + "/backup.sqlite");
  const archive::PostgresServer server;
  (void)archive::restore(folder_ + "/backup.sqlite", server.url());
  const archive::Archive other{server.url()};
  for (const Scope& scope : {Scope{.bed = 1}, Scope{.bed = 2}, Scope{.jack = sample_jack}}) {
    EXPECT_EQ(file_of(sample.data(scope, true)), file_of(collect(other, scope, sample.host(true))));
  }
}

}  // namespace
}  // namespace strandproof::host::bundle
