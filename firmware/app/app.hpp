// The firmware as one object: a board makes it, calls start() once and tick() every millisecond.
#pragma once

#include <array>
#include <cstdint>

#include "firmware/app/bed_marks.hpp"
#include "firmware/app/checkpointer.hpp"
#include "firmware/app/clock.hpp"
#include "firmware/app/copies.hpp"
#include "firmware/app/display.hpp"
#include "firmware/app/pendant.hpp"
#include "firmware/app/records.hpp"
#include "firmware/app/snapshots.hpp"
#include "firmware/app/table_shelf.hpp"
#include "firmware/app/vault.hpp"
#include "firmware/control/controller.hpp"
#include "firmware/link/session.hpp"
#include "firmware/port/device.hpp"
#include "firmware/port/flash.hpp"
#include "firmware/port/sample.hpp"
#include "firmware/port/serial.hpp"

namespace strandproof::app {

struct AppAnswer {
  port::OutputBits outputs = 0;
  std::uint8_t state = 0, cause = 0, load_state = 0;
};

class App final : private link::Handler {
 public:
  App(const port::Device& device, port::Flash& flash, port::Serial& serial);
  App(const App&) = delete;
  App& operator=(const App&) = delete;

  // Mounts the store and the cells, counts the boot, restores table, pairing, marks and load state. A
  // damaged store does not stop it: holding, seating and lowering never depend on the records.
  void start();
  [[nodiscard]] AppAnswer tick(const port::RawSample& sample);
  [[nodiscard]] const Display& display() const { return display_; }
  // What every interlock row sees, in each tick from now on and not in that of a trip alone: for whoever
  // explains a pull. It steers nothing.
  void watch_rows() { controller_.watch_rows(); }
  [[nodiscard]] const control::Looks& looks() const { return controller_.looks(); }

 private:
  // ---- link::Handler
  [[nodiscard]] link::Code load_instruction(const strandproof_wire_PullInstruction& i) override;
  [[nodiscard]] link::Code set_clock(std::uint64_t utc_s) override;
  [[nodiscard]] link::Code enter_bed(const strandproof_wire_BedEntry& e) override;
  [[nodiscard]] link::Code install_table(const strandproof_wire_GaugeTable& t,
                                         std::span<const std::uint8_t> bytes,
                                         std::span<const std::uint8_t, 64> signature) override;
  [[nodiscard]] link::Code withdraw_table(const strandproof_wire_TableWithdraw& w) override;
  [[nodiscard]] link::Code undo_table(const strandproof_wire_TableUndo& u) override;
  [[nodiscard]] link::Code release_records(const strandproof_wire_RecordRelease& r) override;
  [[nodiscard]] bool at_rest() const override {
    const control::State s = controller_.core().state;
    return outputs_ == 0 || ((s == control::State::idle || s == control::State::ended) &&
                             (outputs_ & ~std::uint32_t{port::bit(port::Output::lamp)}) == 0);
  }
  [[nodiscard]] bool moving() const override;
  void fill(strandproof_wire_Identity& to) override;
  void fill(strandproof_wire_Status& to) override;
  void fill(strandproof_wire_Telemetry& to) override;
  void fill(strandproof_wire_Tables& to) override { shelf_.fill(to); }
  [[nodiscard]] link::Code table_bytes(const strandproof_wire_TableRead& r,
                                       strandproof_wire_TableBytes& to) override {
    return shelf_.bytes(r, to);
  }
  [[nodiscard]] bool record_from(std::uint64_t from, strandproof_wire_LogRecord& to) override;
  [[nodiscard]] bool pairing_open() const override;
  void show_pairing(std::uint32_t check) override { extra_.pairing_check = check; }
  [[nodiscard]] bool store_pairing(const link::Pairing& p, const link::ChainKey& chain_key) override;
  [[nodiscard]] link::Code may_enrol() const override;
  [[nodiscard]] bool key_enrolled(const link::TableKey& k) const override { return shelf_.enrolled(k); }
  void show_key(const link::TableKey* k) override;
  [[nodiscard]] bool enrol_key(const link::TableKey& k) override;
  void note_forged(std::uint32_t count) override;
  void note_refused(std::uint32_t kind, link::Code code) override;

  void restore();
  void answer_questions(control::Inputs& in);
  void answer(const Press& press, bool moving_key);
  void answer_list(const Press& press);
  void revoke_chosen();
  void part_chosen();
  void copies_chosen();
  [[nodiscard]] unsigned choices() const;
  void show_list();
  void watch_table();
  void record_tick();
  void record_step(const control::TickReport& r);
  void keep_load_state();
  void event(EventCode code, std::uint32_t detail = 0, record::Priority priority = record::Priority::routine);
  void event(const EventNote& note, record::Priority priority = record::Priority::routine);
  void append_pull();
  void append(const RecordBytes& bytes, std::size_t size, record::Priority priority);
  void write_records();
  void housekeeping();
  void watch_log();
  void count_pulls_left();
  [[nodiscard]] Stamp stamp() const { return {controller_, device_, clock_, now_}; }

  const port::Device device_;
  Vault vault_;
  Checkpointer checkpointer_;
  Snapshots snapshots_{vault_.chain()};
  Copies copies_{vault_};
  Clock clock_;
  BedMarks marks_;
  control::Controller controller_;
  TableShelf shelf_{vault_, controller_};
  link::Session session_;
  Display display_;
  DisplayExtra extra_;
  units::Ticks now_ = 0;
  std::uint32_t boot_ = 0;
  LoadCell kept_{};
  units::Ticks pairing_open_until_ = 0, key_open_until_ = 0;
  PendantKeys keys_;
  Chooser chooser_;
  std::uint16_t digital_ = 0;  // of the last sample, and what it says
  control::Switches switches_;
  control::Commands commands_;  // those that outputs_ are the bits of
  std::uint8_t display_ms_ = 0;
  bool display_due_ = false;
  std::uint8_t served_ = 0;         // ticks at rest since flash had nothing to do
  bool record_made_ = false;        // in this tick
  bool table_was_bad_ = false;      // said in the record since it was last good
  std::uint32_t retired_said_ = 0;  // pages of the log, in the record
  std::uint32_t refused_kind_ = 0, refused_code_ = 0;
  units::Ticks refused_at_ = 0;
  std::uint32_t outputs_ = 0;
  std::uint16_t oil_counts_ = 0;
};

// First 4 bytes of a key's fingerprint, for the record.
[[nodiscard]] std::uint32_t first_four(const link::TableKey& k);

}  // namespace strandproof::app
