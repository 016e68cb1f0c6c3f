#include "sim/board/emulator.hpp"

#include <fcntl.h>
#include <poll.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <csignal>
#include <cstdlib>
#include <cstring>
#include <fstream>
#include <sstream>
#include <thread>
#include <utility>
#include <vector>

namespace strandproof::sim {
namespace {

using Clock = std::chrono::steady_clock;
using std::chrono::milliseconds;

constexpr const char* to_board_name = "to-board";  // firmware/boards/mps2_an386/main.cpp opens these
constexpr const char* from_board_name = "from-board";
constexpr const char* memory_name = "memory";
constexpr const char* console_name = "console";
constexpr int not_started = 127;  // exit code of a child that found no emulator

}  // namespace

Emulator::Emulator(EmulatorOptions options) : options_{std::move(options)} {
  if (!std::filesystem::is_regular_file(options_.image)) {
    throw TargetError(
        options_.image.string() +
        ": no firmware image there; build one with: cmake --preset arm && cmake --build --preset arm");
  }
  options_.image = std::filesystem::absolute(options_.image);
  make_folder();
  map_memory();
}

Emulator::~Emulator() {
  cut_power();
  if (memory_ != nullptr) {
    ::munmap(memory_, memory_bytes);
  }
}

Emulator::Folder::~Folder() {
  std::error_code ignored;
  std::filesystem::remove_all(path, ignored);
}

void Emulator::make_folder() {
  std::string pattern = (std::filesystem::temp_directory_path() / "strandproof-target-XXXXXX").string();
  if (::mkdtemp(pattern.data()) == nullptr) {
    throw TargetError(pattern + ": can not make a folder for the emulator: " + std::strerror(errno) +
                      "; point TMPDIR at a folder that you may write");
  }
  folder_.path = pattern;
  for (const char* name : {to_board_name, from_board_name}) {
    if (::mkfifo((folder_.path / name).c_str(), 0600) != 0) {
      fail(std::string("can not make the FIFO ") + name + ": " + std::strerror(errno));
    }
  }
}

void Emulator::map_memory() {
  const int fd = ::open((folder_.path / memory_name).c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0600);
  if (fd < 0 || ::ftruncate(fd, memory_bytes) != 0) {
    fail(std::string("can not make the memory file: ") + std::strerror(errno));
  }
  void* const mapped = ::mmap(nullptr, memory_bytes, PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
  ::close(fd);
  if (mapped == MAP_FAILED) {
    fail(std::string("can not map the memory file: ") + std::strerror(errno));
  }
  memory_ = static_cast<std::uint8_t*>(mapped);
}

void Emulator::open_channel() {
  // Reading end first and without waiting: the guest's open of the other end then never waits. Our
  // writing end is opened for both directions so that it opens before the guest is there.
  from_board_ = ::open((folder_.path / from_board_name).c_str(), O_RDONLY | O_NONBLOCK | O_CLOEXEC);
  to_board_ = ::open((folder_.path / to_board_name).c_str(), O_RDWR | O_NONBLOCK | O_CLOEXEC);
  if (from_board_ < 0 || to_board_ < 0) {
    fail(std::string("can not open the FIFOs: ") + std::strerror(errno));
  }
}

void Emulator::close_channel() {
  for (int* fd : {&to_board_, &from_board_}) {
    if (*fd >= 0) {
      ::close(*fd);
      *fd = -1;
    }
  }
}

void Emulator::start() {
  open_channel();
  answered_ = false;
  std::vector<std::string> words = command();
  std::vector<char*> arguments;
  for (std::string& w : words) {
    arguments.push_back(w.data());
  }
  arguments.push_back(nullptr);
  const pid_t child = ::fork();
  if (child < 0) {
    fail(std::string("can not start a process: ") + std::strerror(errno));
  }
  if (child == 0) {
    become_emulator(arguments);
  }
  process_ = child;
}

std::vector<std::string> Emulator::command() const {
  const std::string memory =
      "memory-backend-file,id=m0,share=on,size=" + std::to_string(memory_bytes) + ",mem-path=" + memory_name;
  std::vector<std::string> words{options_.program,
                                 "-M",
                                 "mps2-an386,memory-backend=m0",
                                 "-object",
                                 memory,
                                 "-kernel",
                                 options_.image.string(),
                                 "-display",
                                 "none",
                                 "-monitor",
                                 "none",
                                 "-serial",
                                 "none",
                                 "-semihosting-config",
                                 "enable=on,target=native"};
  if (options_.count_instructions) {
    words.insert(words.end(), {"-icount", "shift=4,sleep=off"});
  }
  return words;
}

// In the child: only calls that are safe between fork and exec.
void Emulator::become_emulator(const std::vector<char*>& arguments) const {
  ::prctl(PR_SET_PDEATHSIG, SIGKILL);  // no emulator outlives us, even if we are killed
  const int nothing = ::open("/dev/null", O_RDWR);
  if (::chdir(folder_.path.c_str()) != 0) {
    ::_exit(not_started);
  }
  const int console = ::open(console_name, O_WRONLY | O_CREAT | O_APPEND, 0600);
  if (::dup2(nothing, STDIN_FILENO) < 0 || ::dup2(nothing, STDOUT_FILENO) < 0 ||
      ::dup2(console, STDERR_FILENO) < 0) {
    ::_exit(not_started);
  }
  ::execvp(arguments[0], arguments.data());
  ::_exit(not_started);
}

void Emulator::cut_power() {
  close_channel();
  if (process_ > 0) {
    ::kill(process_, SIGKILL);  // while the guest waits in a read, QEMU hears no gentler signal
    (void)reap(true);
  }
}

bool Emulator::reap(bool wait) {
  if (process_ <= 0) {
    return true;
  }
  pid_t done = 0;
  do {
    done = ::waitpid(process_, &exit_status_, wait ? 0 : WNOHANG);
  } while (done < 0 && errno == EINTR);
  if (done == 0) {
    return false;
  }
  process_ = -1;
  return true;
}

void Emulator::wait_until_ready(int fd, short what) {
  const auto limit = answered_ ? options_.answer_timeout : options_.start_timeout;
  const auto end = Clock::now() + limit;
  for (;;) {
    pollfd p{fd, what, 0};
    const int n = ::poll(&p, 1, 20);
    if (n > 0 && (p.revents & what) != 0) {
      return;
    }
    if (reap(false)) {
      fail(WIFEXITED(exit_status_) && WEXITSTATUS(exit_status_) == not_started
               ? "can not start " + options_.program + "; install it with: apt-get install qemu-system-arm"
               : "the board has stopped");
    }
    if (Clock::now() > end) {
      fail("the board has not answered for " + std::to_string(limit.count()) + " ms");
    }
    if (n > 0) {  // hung up but not yet dead: do not spin
      std::this_thread::sleep_for(milliseconds{1});
    }
  }
}

void Emulator::send(std::span<const std::uint8_t> bytes) {
  while (!bytes.empty()) {
    const ssize_t n = ::write(to_board_, bytes.data(), bytes.size());
    if (n > 0) {
      bytes = bytes.subspan(static_cast<std::size_t>(n));
    } else {
      wait_until_ready(to_board_, POLLOUT);
    }
  }
}

std::size_t Emulator::receive(std::span<std::uint8_t> into) {
  for (;;) {
    wait_until_ready(from_board_, POLLIN);
    const ssize_t n = ::read(from_board_, into.data(), into.size());
    if (n > 0) {
      answered_ = true;
      return static_cast<std::size_t>(n);
    }
  }
}

int Emulator::wait_for_exit() {
  const auto end = Clock::now() + options_.answer_timeout;
  while (!reap(false)) {
    if (Clock::now() > end) {
      fail("the board does not leave");
    }
    std::this_thread::sleep_for(milliseconds{1});
  }
  return WIFEXITED(exit_status_) ? WEXITSTATUS(exit_status_) : -1;
}

std::string Emulator::printed() const {
  const std::ifstream file{folder_.path / console_name};
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

void Emulator::fail(const std::string& what) const {
  std::string words = printed();
  std::replace(words.begin(), words.end(), '\n', ' ');
  throw TargetError("emulated board " + options_.image.string() + ": " + what +
                    (words.empty() ? "" : "; it said: " + words));
}

}  // namespace strandproof::sim
