#include "tests/host/cutting_proxy.hpp"

#include <poll.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <array>
#include <cstdlib>
#include <filesystem>

namespace strandproof::host::archive {
namespace {

sockaddr_un address(const std::string& path) {
  sockaddr_un a{};
  a.sun_family = AF_UNIX;
  path.copy(a.sun_path, sizeof a.sun_path - 1);
  return a;
}

int opened() {
  return socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
}

}  // namespace

CuttingProxy::CuttingProxy(const std::string& server_socket, std::string folder, int cut_at)
    : folder_{std::move(folder)}, cut_at_{cut_at}, listener_{opened()} {
  std::filesystem::create_directories(folder_);
  const auto here = address(folder_ + "/.s.PGSQL.5432");
  unlink(here.sun_path);
  if (bind(listener_, reinterpret_cast<const sockaddr*>(&here), sizeof here) != 0 ||
      listen(listener_, 4) != 0)
    std::abort();
  thread_ = std::thread{[this, server_socket] { serve(server_socket); }};
}

CuttingProxy::~CuttingProxy() {
  stop_ = true;
  thread_.join();
  close(listener_);
}

void CuttingProxy::serve(const std::string& server_socket) {
  const auto there = address(server_socket);
  while (!stop_) {
    pollfd waiting{listener_, POLLIN, 0};
    if (poll(&waiting, 1, 5) != 1) continue;
    const int client = accept(listener_, nullptr, nullptr);
    const int server = opened();
    if (connect(server, reinterpret_cast<const sockaddr*>(&there), sizeof there) == 0) carry(client, server);
    close(client);
    close(server);
  }
}

void CuttingProxy::carry(int client, int server) {
  while (!stop_) {
    std::array<pollfd, 2> ends{{{client, POLLIN, 0}, {server, POLLIN, 0}}};
    if (poll(ends.data(), ends.size(), 5) <= 0) continue;
    if (ends[0].revents != 0 && !pass(client, server)) return;
    if (ends[1].revents != 0 && !pass(server, client)) return;
  }
}

bool CuttingProxy::pass(int from, int to) {
  std::array<char, 65536> piece{};
  const auto size = read(from, piece.data(), piece.size());
  if (size <= 0) return false;
  if (++pieces_ == cut_at_) {
    has_cut_ = true;
    return false;
  }
  return send(to, piece.data(), static_cast<std::size_t>(size), MSG_NOSIGNAL) == size;
}

}  // namespace strandproof::host::archive
