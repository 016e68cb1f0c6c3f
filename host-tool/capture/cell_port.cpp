#include "host-tool/capture/cell_port.hpp"

#include <fmt/core.h>

#include <utility>

#include "host-tool/base/problem.hpp"

namespace strandproof::host::capture {
namespace {

constexpr std::chrono::seconds silent_after{1};
constexpr std::chrono::milliseconds between_tries{500};
constexpr std::size_t garbage_worth_telling = 5;  // lines in a row: one may be a disturbance

}  // namespace

CellPort::CellPort(std::string port) : port_{std::move(port)}, line_{link::open_line(port_)} {}

std::vector<double> CellPort::read() {
  if (!line_) open_again();
  if (!line_) return {};
  std::vector<double> values;
  try {
    const auto bytes = line_->wait(std::chrono::milliseconds{1});
    values = text_.feed({reinterpret_cast<const char*>(bytes.data()), bytes.size()});
  } catch (const link::LineLost& lost) {
    line_.reset();
    text_.line_lost();
    news_ = fmt::format("reference cell: {}; waiting for the line to come back", lost.what());
  }
  if (!values.empty()) {
    heard_ = Clock::now();
    garbage_told_ = text_.garbage();
  } else if (text_.garbage() >= garbage_told_ + garbage_worth_telling) {
    garbage_told_ = text_.garbage();
    news_ = fmt::format(
        "reference cell: {} says nothing but lines that are no \"force_n <integer>\"; is it the right "
        "port, at 115200 baud?",
        port_);
  }
  return values;
}

bool CellPort::silent() const {
  return Clock::now() - heard_ > silent_after;
}

std::string CellPort::news() {
  return std::exchange(news_, {});
}

void CellPort::open_again() {
  if (Clock::now() - tried_ < between_tries) return;
  tried_ = Clock::now();
  try {
    line_ = link::open_line(port_);
    news_ = "reference cell: the line is back";
  } catch (const Problem&) {
    line_.reset();  // still gone: it is tried again
  }
}

}  // namespace strandproof::host::capture
