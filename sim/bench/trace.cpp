#include "sim/bench/trace.hpp"

#include <bit>

namespace strandproof::sim {

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
    file_->row(m);
  }
}

void Trace::close() {
  if (file_) {
    file_->close();
    file_.reset();
  }
}

}  // namespace strandproof::sim
