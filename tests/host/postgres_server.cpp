#include "tests/host/postgres_server.hpp"

#include <fcntl.h>
#include <fmt/core.h>
#include <gtest/gtest.h>
#include <libpq-fe.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <csignal>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <thread>

namespace strandproof::host::archive {
namespace {

namespace fs = std::filesystem;
constexpr uid_t nobody = 65534;

// The newest server that is installed.
std::string programs() {
  std::string newest;
  for (const auto& version : fs::directory_iterator{"/usr/lib/postgresql"})
    newest = std::max(newest, version.path().string());
  return newest + "/bin/";
}

pid_t started(std::vector<std::string> words, const std::string& log) {
  const pid_t child = fork();
  if (child != 0) return child;
  const int out = open(log.c_str(), O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0666);
  dup2(out, STDOUT_FILENO);
  dup2(out, STDERR_FILENO);
  if (geteuid() == 0 && (setgid(nobody) != 0 || setuid(nobody) != 0)) _exit(126);
  std::vector<char*> arguments;
  for (auto& w : words) arguments.push_back(w.data());
  arguments.push_back(nullptr);
  execv(words[0].c_str(), arguments.data());
  _exit(127);
}

int waited_for(pid_t child) {
  int status = -1;
  while (waitpid(child, &status, 0) < 0 && errno == EINTR) {
  }
  return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

[[noreturn]] void give_up(const std::string& folder, const char* what) {
  std::ifstream log{folder + "/log"};
  ADD_FAILURE() << what << "\n" << std::string{std::istreambuf_iterator<char>{log}, {}};
  std::abort();
}

std::string own_folder(const std::string& name) {
  std::string folder = testing::TempDir() + name + ".XXXXXX";
  if (mkdtemp(folder.data()) == nullptr) give_up(folder, "no folder");
  fs::permissions(folder, fs::perms{0755});
  return folder;
}

// A server refuses data of another user, and to run as root.
void hand_over(const std::string& folder) {
  if (geteuid() != 0) return;
  const auto give = [](const fs::path& p) { return lchown(p.c_str(), nobody, nobody) == 0; };
  bool good = give(folder);
  for (const auto& p : fs::recursive_directory_iterator{folder}) good = give(p.path()) && good;
  fs::permissions(folder + "/data", fs::perms{0700});
  if (!good) give_up(folder, "no owner");
}

// initdb costs seconds: its result is kept among the temporary files and copied by every server. It is moved
// into place whole; whoever comes second throws his own away.
std::string fresh_cluster() {
  const std::string kept =
      fmt::format("{}strandproof-cluster-{}-{}", testing::TempDir(),
                  fs::path{programs()}.parent_path().parent_path().filename().string(), geteuid());
  if (fs::exists(kept)) return kept;
  const std::string folder = own_folder("cluster");
  if (geteuid() == 0 && chown(folder.c_str(), nobody, nobody) != 0) give_up(folder, "no owner");
  // -N leaves out the sync of the empty cluster only; a server itself syncs.
  const pid_t made = started({programs() + "initdb", "-N", "-D", folder + "/data", "-U", "yard", "-A",
                              "trust", "-E", "UTF8", "--locale=C.UTF-8"},
                             folder + "/log");
  if (waited_for(made) != 0) give_up(folder, "initdb failed");
  std::error_code taken;
  fs::rename(folder + "/data", kept, taken);
  fs::remove_all(folder);
  return kept;
}

bool answers(const std::string& url) {
  PGconn* c = PQconnectdb(url.c_str());
  const bool good = PQstatus(c) == CONNECTION_OK;
  PQfinish(c);
  return good;
}

}  // namespace

PostgresServer::PostgresServer(const std::vector<std::string>& settings) {
  folder_ = own_folder("pg");
  fs::copy(fresh_cluster(), folder_ + "/data", fs::copy_options::recursive);
  hand_over(folder_);
  std::ofstream conf{folder_ + "/data/postgresql.conf", std::ios::app};
  conf << "listen_addresses = ''\nunix_socket_directories = '" << folder_
       << "'\nshared_buffers = 16MB\nmax_connections = 20\n";
  for (const auto& line : settings) conf << line << "\n";
  conf.close();
  start();
}

void PostgresServer::start() {
  fs::remove(folder_ + "/data/postmaster.pid");
  server_ = started({programs() + "postgres", "-D", folder_ + "/data"}, folder_ + "/log");
  for (int i = 0; i < 600; ++i) {
    if (answers(url())) return;
    std::this_thread::sleep_for(std::chrono::milliseconds{50});
  }
  give_up(folder_, "the server does not answer");
}

void PostgresServer::stop(int signal) {
  if (server_ <= 0) return;
  kill(server_, signal);
  (void)waited_for(server_);
  server_ = -1;
}

// The children see the postmaster die and leave; their memory is gone with the last of them.
void PostgresServer::crash() {
  stop(SIGKILL);
  for (int i = 0; i < 200 && answers(url()); ++i) std::this_thread::sleep_for(std::chrono::milliseconds{20});
  std::this_thread::sleep_for(std::chrono::milliseconds{300});
}

PostgresServer::~PostgresServer() {
  stop(SIGQUIT);
  std::error_code ignored;  // the folder lies among temporary files
  fs::remove_all(folder_, ignored);
}

std::string PostgresServer::url(const std::string& folder) const {
  return "postgresql://yard@/postgres?host=" + (folder.empty() ? folder_ : folder);
}

std::string PostgresServer::value(const std::string& statement) const {
  PGconn* c = PQconnectdb(url().c_str());
  PGresult* r = PQexec(c, statement.c_str());
  const bool rows = PQresultStatus(r) == PGRES_TUPLES_OK && PQntuples(r) > 0;
  const std::string text = rows ? PQgetvalue(r, 0, 0) : PQerrorMessage(c);
  PQclear(r);
  PQfinish(c);
  return text;
}

}  // namespace strandproof::host::archive
