// A PostgreSQL of the test's own: a fresh cluster in a temporary folder, reachable over a unix socket there
// and nowhere else, run by an unprivileged user, gone with the object.
#pragma once

#include <sys/types.h>

#include <string>
#include <vector>

namespace strandproof::host::archive {

class PostgresServer {
 public:
  // settings: further lines of postgresql.conf. Aborts the test with a message if it does not start.
  explicit PostgresServer(const std::vector<std::string>& settings = {});
  ~PostgresServer();
  PostgresServer(const PostgresServer&) = delete;
  PostgresServer& operator=(const PostgresServer&) = delete;

  // Of a socket folder, by default the server's own (or that of a proxy before it).
  [[nodiscard]] std::string url(const std::string& folder = {}) const;
  [[nodiscard]] std::string socket() const { return folder_ + "/.s.PGSQL.5432"; }
  [[nodiscard]] const std::string& folder() const { return folder_; }

  // Power off: every process is killed, nothing is written any more. start() recovers from the log.
  void crash();
  void start();

  // One statement by psql's own connection; its first column of the first row.
  [[nodiscard]] std::string value(const std::string& statement) const;

 private:
  void stop(int signal);
  std::string folder_;
  pid_t server_ = -1;
};

}  // namespace strandproof::host::archive
