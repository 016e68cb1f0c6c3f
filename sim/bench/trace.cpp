#include "sim/bench/trace.hpp"

#include <array>
#include <bit>
#include <cerrno>
#include <charconv>
#include <cstring>
#include <stdexcept>

#include "sim/bench/names.hpp"

namespace strandproof::sim {
namespace {

constexpr std::string_view header =
    "time_s,force_strand_n,force_jack_n,force_chuck_n,pressure_cap_pa,pressure_rod_pa,stroke_m,speed_m_per_s,"
    "pressure_a_counts,pressure_b_counts,stroke_counts,load_cell_counts,oil_counts,digital_bits,"
    "outputs_bits,driven_bits,state,state_name,cause,load_state\n";

// One line, built without the locale.
class Line {
 public:
  void number(double value) {
    const auto end = std::to_chars(at(), limit(), value).ptr;
    finish(end);
  }
  void fixed(double value, int decimals) {
    const auto end = std::to_chars(at(), limit(), value, std::chars_format::fixed, decimals).ptr;
    finish(end);
  }
  void integer(unsigned value) { finish(std::to_chars(at(), limit(), value).ptr); }
  void text(std::string_view value) {
    std::memcpy(at(), value.data(), value.size());
    finish(at() + value.size());
  }
  std::string_view end() {
    text_[size_ - 1] = '\n';
    return {text_.data(), size_};
  }

 private:
  char* at() { return text_.data() + size_; }
  char* limit() { return text_.data() + text_.size() - 1; }
  void finish(char* end) {
    *end = ',';
    size_ = static_cast<std::size_t>(end - text_.data()) + 1;
  }
  std::array<char, 640> text_;
  std::size_t size_ = 0;
};

}  // namespace

Trace::Trace(const std::string& path) : path_{path}, file_{std::fopen(path.c_str(), "we")} {
  if (!file_) {
    throw std::runtime_error(path + ": can not write the trace: " + std::strerror(errno) +
                             "; name a file in a folder that you may write");
  }
  failed_ = std::fwrite(header.data(), 1, header.size(), file_.get()) != header.size();
}

void Trace::tick(const Moment& m) {
  const plant::Truth& t = m.truth;
  for (const double value : {t.F_strand_live, t.F_jack, t.F_chuck, t.p_cap, t.p_rod, t.x_ram, t.v_ram}) {
    hash_ = fnv(hash_, std::bit_cast<std::uint64_t>(value));
  }
  const port::RawSample& s = m.sample;
  hash_ = fnv(hash_, std::uint64_t{s.pressure_a} | std::uint64_t{s.pressure_b} << 16U |
                         std::uint64_t{s.stroke} << 32U | std::uint64_t{s.load_cell} << 48U);
  hash_ = fnv(hash_, std::uint64_t{s.oil_temperature} | std::uint64_t{s.digital} << 16U |
                         std::uint64_t{s.tick} << 32U);
  const Answer& a = m.answer;
  hash_ = fnv(hash_, std::uint64_t{a.outputs} | std::uint64_t{a.state} << 8U | std::uint64_t{a.cause} << 16U |
                         std::uint64_t{a.load_state} << 24U | std::uint64_t{m.driven} << 32U);
  ++rows_;
  if (file_) {
    row(m);
  }
}

void Trace::row(const Moment& m) {
  Line line;
  line.fixed(m.time_s, 3);
  const plant::Truth& t = m.truth;
  for (const double value : {t.F_strand_live, t.F_jack, t.F_chuck, t.p_cap, t.p_rod, t.x_ram, t.v_ram}) {
    line.number(value);
  }
  const port::RawSample& s = m.sample;
  for (const unsigned value : {unsigned{s.pressure_a}, unsigned{s.pressure_b}, unsigned{s.stroke},
                               unsigned{s.load_cell}, unsigned{s.oil_temperature}, unsigned{s.digital},
                               unsigned{m.answer.outputs}, unsigned{m.driven}, unsigned{m.answer.state}}) {
    line.integer(value);
  }
  line.text(state_name(m.answer.state));
  line.integer(m.answer.cause);
  line.integer(m.answer.load_state);
  const std::string_view text = line.end();
  failed_ = failed_ || std::fwrite(text.data(), 1, text.size(), file_.get()) != text.size();
}

void Trace::close() {
  if (file_) {
    failed_ = failed_ || std::fflush(file_.get()) != 0;
    file_.reset();
    if (failed_) {
      throw std::runtime_error(path_ + ": the trace could not be written whole; free some space");
    }
  }
}

}  // namespace strandproof::sim
