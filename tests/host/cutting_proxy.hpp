// Stands between a client and a PostgreSQL's socket and cuts both ends instead of passing on the n-th piece
// that comes from either side: a question that never arrives, or an answer that is lost after the deed.
#pragma once

#include <atomic>
#include <string>
#include <thread>

namespace strandproof::host::archive {

class CuttingProxy {
 public:
  // folder: holds the proxy's socket, made here. cut_at: from 1; 0 never.
  CuttingProxy(const std::string& server_socket, std::string folder, int cut_at);
  ~CuttingProxy();
  CuttingProxy(const CuttingProxy&) = delete;
  CuttingProxy& operator=(const CuttingProxy&) = delete;

  [[nodiscard]] const std::string& folder() const { return folder_; }
  [[nodiscard]] int pieces() const { return pieces_; }
  [[nodiscard]] bool has_cut() const { return has_cut_; }

 private:
  void serve(const std::string& server_socket);
  void carry(int client, int server);
  [[nodiscard]] bool pass(int from, int to);

  std::string folder_;
  int cut_at_;
  int listener_ = -1;
  std::atomic<int> pieces_{0};
  std::atomic<bool> has_cut_{false}, stop_{false};
  std::thread thread_;
};

}  // namespace strandproof::host::archive
