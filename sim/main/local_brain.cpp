#include "sim/main/local_brain.hpp"

#include <optional>

#include "firmware/app/app.hpp"
#include "sim/board/flash.hpp"
#include "sim/board/serial.hpp"

namespace strandproof::sim {

struct LocalBrain::Parts {
  port::Device device;
  SimFlash flash;
  SimSerial serial;
  std::optional<app::App> app;
  bool rows_watched = false;

  void boot() {
    serial = SimSerial{};
    app.emplace(device, flash, serial);
    app->start();
    if (rows_watched) {
      app->watch_rows();
    }
  }
};

LocalBrain::LocalBrain(const port::Device& device, const std::string& flash_file)
    : parts_{std::make_unique<Parts>()} {
  parts_->device = device;
  if (!flash_file.empty()) {
    parts_->flash.keep_in(flash_file);
  }
  parts_->boot();
}

LocalBrain::~LocalBrain() = default;

Answer LocalBrain::tick(const port::RawSample& sample) {
  const app::AppAnswer a = parts_->app->tick(sample);
  return {.outputs = a.outputs, .state = a.state, .cause = a.cause, .load_state = a.load_state};
}

void LocalBrain::link_write(std::span<const std::uint8_t> bytes) {
  parts_->serial.push(bytes);
}
std::vector<std::uint8_t> LocalBrain::link_read() {
  return parts_->serial.take();
}
bool LocalBrain::link_speaks() const {
  return parts_->serial.waiting() != 0;
}
std::vector<std::uint8_t> LocalBrain::flash_image() {
  return parts_->flash.image();
}
void LocalBrain::power_cycle() {
  parts_->boot();
}
const SimFlash& LocalBrain::flash() const {
  return parts_->flash;
}

void LocalBrain::watch_rows() {
  parts_->rows_watched = true;
  parts_->app->watch_rows();
}

void LocalBrain::rows(std::vector<RowLook>& into) const {
  into.clear();
  const control::Looks& looks = parts_->app->looks();
  for (std::size_t i = 0; i < looks.size(); ++i) {
    const control::Cause cause = control::interlocks[i].cause;
    into.push_back({.cause = static_cast<std::uint8_t>(cause),
                    .value = units::to_integer(looks[i].value),
                    .limit = units::to_integer(looks[i].limit),
                    .lowest = control::limit_is_lowest(cause),
                    .judged = looks[i].judged,
                    .active = looks[i].active});
  }
}

std::array<std::string, 4> LocalBrain::display() const {
  std::array<std::string, 4> lines;
  const app::Display& shown = parts_->app->display();
  for (std::size_t i = 0; i < lines.size(); ++i) {
    lines[i] = std::string(shown[i].view());
  }
  return lines;
}

}  // namespace strandproof::sim
