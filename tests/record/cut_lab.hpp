// Power cuts of the log: at every operation of a workload, and at every operation of the recovery from each
// of those. The workload runs once; before each of its operations a copy of flash and shadow goes its own way
// from there, so a cut costs its recovery and no more.
#pragma once

#include <iostream>
#include <string>
#include <unordered_set>

#include "tests/record/nasty_flash.hpp"
#include "tests/record/shadow.hpp"

namespace strandproof::test {

struct Geometry {
  std::uint32_t pages, page_size, word_size;

  [[nodiscard]] NastyFlash flash() const { return {pages, page_size, word_size}; }
  [[nodiscard]] record::Region region() const {
    return {.base = 0, .size = pages * page_size, .reserve_pages = 1};
  }
  [[nodiscard]] std::string name() const {
    return std::to_string(pages) + "x" + std::to_string(page_size) + "_" + std::to_string(word_size);
  }
};
inline void PrintTo(const Geometry& g, std::ostream* out) {
  *out << g.name();
}
inline constexpr std::array geometries{Geometry{7, 1024, 4}, Geometry{7, 1024, 8}, Geometry{7, 1536, 4}};

inline void idle(record::Store& store) {
  while (store.service()) {
  }
}

struct Workload {
  const char* name;
  void (*prepare)(NastyFlash&);
  void (*run)(NastyFlash&, const Geometry&, Shadow&);
  std::uint64_t acknowledged;  // records that it must write at the least, or it proves little
};

inline void PrintTo(const Workload& w, std::ostream* out) {
  *out << w.name;
}

namespace workloads {

// One boot: house kept, so many records; when the log is full the host takes everything.
inline void boot(NastyFlash& flash, const Geometry& g, Shadow& shadow, std::uint32_t number, int records,
                 record::Priority priority = record::Priority::routine) {
  record::Store store{flash, g.region()};
  ASSERT_EQ(store.mount(), record::Error::none);
  idle(store);
  for (int i = 0; i < records; ++i) {
    if (shadow.append(store, number, priority) == record::Error::full) {
      shadow.release(store, shadow.newest_acknowledged());
      idle(store);
    }
  }
}

// Three boots that fill the ring, let the host take records, and go once round it.
inline void ring(NastyFlash& flash, const Geometry& g, Shadow& shadow) {
  for (std::uint32_t number = 1; number <= 3; ++number) {
    boot(flash, g, shadow, number, 9);
    record::Store store{flash, g.region()};
    ASSERT_EQ(store.mount(), record::Error::none);
    shadow.release(store, shadow.newest_acknowledged() / 2);
    idle(store);
  }
}

// A supply that chatters: many boots of a record or two, routine ones until the log refuses them and faults
// into the reserve, and a host that comes at last.
inline void chatter(NastyFlash& flash, const Geometry& g, Shadow& shadow) {
  for (std::uint32_t number = 1; number <= 12; ++number) {
    record::Store store{flash, g.region()};
    ASSERT_EQ(store.mount(), record::Error::none);
    idle(store);
    (void)shadow.append(store, number);
    (void)shadow.append(store, number, record::Priority::fault);
    if (number % 5 == 0) {
      shadow.release(store, shadow.newest_acknowledged() - 1);
    }
  }
}

}  // namespace workloads

inline void sound(NastyFlash&) {}

// Cells that keep their 1 where a header and a body are to go, and a page that is erased once and no more.
inline void with_bad_pages(NastyFlash& flash) {
  flash.stick(flash.page_size() + 16);
  flash.stick(2 * flash.page_size() + 200);
  flash.wears_out_after(4, 1);
}

inline constexpr std::array all_workloads{
    Workload{"ring", sound, workloads::ring, 22},
    Workload{"chatter", sound, workloads::chatter, 14},
    Workload{"bad_pages", with_bad_pages, workloads::ring, 20},
};

// How many of the first cuts are followed by a second one at each operation of their recovery: every
// `step`-th of them, from `phase`; 0: none.
struct Share {
  std::uint64_t step = 0, phase = 0;
};

class CutLab {
 public:
  struct Totals {
    std::uint64_t operations = 0, cuts = 0, second_cuts = 0, wrong = 0;
    std::uint64_t mount_programs = 0, mount_reads = 0;  // worst of all recoveries: words, and bytes
    std::unordered_set<std::size_t> images;
  };

  CutLab(const Geometry& geometry, const Workload& workload, std::uint64_t seed = 0)
      : geometry_{geometry}, workload_{workload}, damages_{damages_of(geometry.word_size)}, seed_{seed} {}

  void run(Share second) {
    NastyFlash flash = geometry_.flash();
    workload_.prepare(flash);
    Shadow shadow;
    flash.watch([&](const NastyFlash::Operation& next) {
      for (const Damage damage : damages_) {
        if (totals_.wrong == 0 && !testing::Test::HasFatalFailure()) {
          cut(flash, shadow, next, damage, second);
        }
      }
      ++totals_.operations;
    });
    workload_.run(flash, geometry_, shadow);
    EXPECT_GE(shadow.acknowledged(), workload_.acknowledged) << "the workload must write more than a handful";
    EXPECT_EQ(totals_.operations, flash.operations());
  }

  [[nodiscard]] const Totals& totals() const { return totals_; }
  [[nodiscard]] std::size_t damages() const { return damages_.size(); }

  void print() const {
    std::cout << workload_.name << ", " << geometry_.name() << ": " << totals_.cuts
              << " cuts = " << totals_.operations << " operations x " << damages_.size() << " damages, "
              << totals_.second_cuts << " second cuts in the recovery, " << totals_.images.size()
              << " distinct images; lost, invented, doubled or out of order " << totals_.wrong
              << "; a mount programs at most " << totals_.mount_programs << " words and reads "
              << totals_.mount_reads << " bytes of " << geometry_.flash().size() << "\n";
  }

 private:
  void cut(const NastyFlash& flash, const Shadow& shadow, const NastyFlash::Operation& next, Damage damage,
           Share second) {
    const std::uint64_t number = totals_.cuts++;
    const std::string where = name(damage, totals_.operations);
    NastyFlash torn = flash.cut_here(next, damage, seed_ + number);
    see(torn);
    Shadow after = shadow;
    if (second.step != 0 && number % second.step == second.phase % second.step) {
      watch_recovery(torn, after, where);
    }
    recover(torn, after, where);
    torn.watch(nullptr);
    for (int boot = 0; boot < 2; ++boot) {  // what one boot shows, the next ones show too
      look(torn, after, where + ", after writing on");
    }
  }

  // Each operation of the recovery is cut with one damage; they take turns.
  void watch_recovery(NastyFlash& torn, Shadow& after, const std::string& where) {
    torn.watch([&, where](const NastyFlash::Operation& next) {
      const std::uint64_t number = totals_.second_cuts++;
      const Damage damage = damages_[number % damages_.size()];
      NastyFlash twice = torn.cut_here(next, damage, seed_ + number);
      see(twice);
      Shadow then = after;
      const std::string both = where + ", then " + name(damage, torn.operations());
      recover(twice, then, both);
      look(twice, then, both);
    });
  }

  // What the next power on does: mount, show the log, keep house, write on.
  void recover(NastyFlash& flash, Shadow& shadow, const std::string& where) {
    record::Store store{flash, geometry_.region()};
    if (!mount(store, flash, shadow, where)) {
      return;
    }
    idle(store);
    for (int i = 0; i < 2; ++i) {
      (void)shadow.append(store, 99);
    }
  }
  void look(NastyFlash& flash, Shadow& shadow, const std::string& where) {
    record::Store store{flash, geometry_.region()};
    (void)mount(store, flash, shadow, where);
  }

  [[nodiscard]] bool mount(record::Store& store, const NastyFlash& flash, Shadow& shadow,
                           const std::string& where) {
    const std::uint64_t programs = flash.operations();
    const std::uint64_t reads = flash.bytes_read();
    if (store.mount() != record::Error::none) {
      ADD_FAILURE() << where << ": does not mount";
      ++totals_.wrong;
      return false;
    }
    totals_.mount_programs = std::max(totals_.mount_programs, flash.operations() - programs);
    totals_.mount_reads = std::max(totals_.mount_reads, flash.bytes_read() - reads);
    const Shadow::Counts counts = shadow.compare(store);
    const std::uint64_t wrong = counts.lost + counts.invented + counts.doubled + counts.unordered +
                                (store.next_sequence() > shadow.newest_acknowledged() ? 0 : 1);
    if (wrong != 0) {
      ADD_FAILURE() << where << ": lost " << counts.lost << ", invented " << counts.invented << ", doubled "
                    << counts.doubled << ", out of order " << counts.unordered << ", next "
                    << store.next_sequence() << " after " << shadow.newest_acknowledged();
    }
    totals_.wrong += wrong;
    return wrong == 0;
  }

  void see(const NastyFlash& flash) { totals_.images.insert(std::hash<std::string_view>{}(flash.image())); }
  [[nodiscard]] std::string name(Damage damage, std::uint64_t operation) const {
    return std::string{workload_.name} + ", " + geometry_.name() + ", damage " +
           std::to_string(static_cast<int>(damage)) + " at operation " + std::to_string(operation + 1);
  }

  Geometry geometry_;
  Workload workload_;
  std::vector<Damage> damages_;
  std::uint64_t seed_;
  Totals totals_;
};

}  // namespace strandproof::test
