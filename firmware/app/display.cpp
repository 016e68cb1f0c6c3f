#include "firmware/app/display.hpp"

#include "firmware/app/texts.hpp"

namespace strandproof::app {
namespace {

using control::Choice;
using control::Controller;
using control::CoreState;
using control::Menu;
using control::State;

std::string_view menu_text(Menu m) {
  switch (m) {
    case Menu::pull:
      return "PULL";
    case Menu::set_up:
      return "SET-UP";
    case Menu::rig:
      return "RIG";
    case Menu::pair_host:
      return "PAIR A HOST";
    case Menu::bed_detensioned:
      return "BED DETENSIONED";
    case Menu::enrol_key:
      return "ENROL A TABLE KEY";
    case Menu::revoke_key:
      return "REVOKE A TABLE KEY";
    case Menu::part_changed:
      return "PART CHANGED";
    case Menu::log_copies:
      return "COPIES OF THE LOG";
  }
  return {};
}

std::string_view choice_text(Choice c) {
  switch (c) {
    case Choice::none:
      return "SELECT, THEN CONFIRM";
    case Choice::go_on:
      return "GO ON: HOLD ENABLES AND ADVANCE";
    case Choice::seat:
      return "SEAT: HOLD ENABLES AND ADVANCE";
    case Choice::lower:
      return "LOWER: HOLD ENABLES AND LOWER";
  }
  return {};
}

void state_line(Line& l, const CoreState& c) {
  l.text(text_of(c.state));
  if (c.state == State::stopped) {
    l.text(": ").text(what_of(c.cause));
  } else if (c.state == State::idle) {
    l.text(" > ").text(menu_text(c.menu));
  }
}

// Force where the table has one; else the raw pressure, said to be raw.
void force_line(Line& l, const Controller& c) {
  const control::ForcePair f = c.force();
  if (f.any()) {
    l.tenths(units::to_integer(f.mean().si() / 100.0F)).text(" kN");
    if (c.pull_active()) {
      l.text(" OF ").tenths(units::to_integer(c.instruction().jack.si() / 100.0F)).text(" kN");
    }
    return;
  }
  const float mbar = c.measures().pressure_now().si() / 100.0F;
  const std::int32_t bar = units::to_integer(mbar > 0.0F ? mbar / 1000.0F : 0.0F);
  l.text("BELOW THE TABLE, RAW ").number(bar).text(" bar");
}

void stopped_line(Line& l, const CoreState& c) {
  if (c.latched) {
    l.text(remedy_of(c.cause));
  } else if (c.clear_needed) {
    l.text("BED SEARCHED AND CLEAR? CONFIRM");
  } else {
    l.text(choice_text(c.choice));
    if (c.choice != Choice::none && !c.chosen) {
      l.text("?");
    }
  }
}

void ended_line(Line& l, const Controller& c) {
  l.text(text_of(c.pull().report().verdict)).text(" - RESET");
}

// Table keys and parts: three lines of their own below the load state. False: nothing is asked.
bool question_lines(Display& d, const DisplayExtra& extra) {
  using enum DisplayExtra::Ask;
  switch (extra.ask) {
    case nothing:
      return false;
    case key_window:
      d[1].text("ENROL A TABLE KEY");
      d[3].text("START IT AT THE HOST NOW");
      return true;
    case key:
      d[1].text("TABLE KEY ").text(extra.subject);
      d[2].fingerprint(extra.fingerprint);
      d[3].text("SAME AT THE HOST? CONFIRM OR RESET");
      return true;
    case revoke_key:
      d[1].text("REVOKE A TABLE KEY").text(extra.subject.empty() ? "" : ": ").text(extra.subject);
      if (!extra.subject.empty()) {
        d[2].fingerprint(extra.fingerprint);
      }
      d[3].text(extra.subject.empty() ? "SELECT A KEY, RESET ENDS"
                                      : "CONFIRM REVOKES IT AND VOIDS ITS TABLE");
      return true;
    case part_changed:
      d[1].text("PART CHANGED").text(extra.subject.empty() ? "" : ": ").text(extra.subject);
      d[2].text("VOIDS THE GAUGE TABLE");
      d[3].text(extra.subject.empty() ? "SELECT THE PART, RESET ENDS"
                                      : "CONFIRM VOIDS, SELECT NEXT, RESET ENDS");
      return true;
    case copies_needed:
      d[1].text(extra.copies_needed == 1 ? "COPIES NEEDED: 1" : "COPIES NEEDED: 2");
      d[2].text(extra.copies_needed == 1 ? "BEFORE A RECORD IS ERASED, FROM NOW ON 2"
                                         : "BEFORE A RECORD IS ERASED, FROM NOW ON 1");
      d[3].text("CONFIRM CHANGES IT, RESET ENDS");
      return true;
    case forget_copy:
      d[1].text(extra.subject.empty() ? "COPIES OF THE LOG" : "FORGET COPY ").text(extra.subject);
      if (!extra.subject.empty()) {
        d[2].fingerprint(extra.fingerprint);
      }
      d[3].text(extra.subject.empty() ? "SELECT, RESET ENDS" : "LOST FOR EVER? CONFIRM FORGETS IT");
      return true;
  }
  return false;
}

void idle_line(Line& l, const CoreState& core, const DisplayExtra& extra) {
  if (core.asked) {
    l.text("FORCE DIFFERS, CONFIRM AGAIN");
  } else if (extra.pulls_left <= few_pulls_left) {
    l.text("ROOM FOR ")
        .number(static_cast<std::int32_t>(extra.pulls_left))
        .text(" PULLS, FETCH ")
        .text(extra.copies_named < extra.copies_needed ? "INTO 2 COPIES" : "THE LOG");
  } else if (extra.log_wearing) {
    l.text("LOG NEARLY WORN OUT, HAVE IT REPLACED");
  } else {
    l.text("SELECT OR CONFIRM");
  }
}

void action_line(Line& l, const Controller& c, const DisplayExtra& extra) {
  const CoreState& core = c.core();
  if (extra.pairing_check != 0) {
    l.text("PAIR? ").number(static_cast<std::int32_t>(extra.pairing_check)).text(" CONFIRM OR RESET");
    return;
  }
  if (extra.refusal != control::Refusal::none) {
    l.text(why_of(extra.refusal));
    return;
  }
  switch (core.state) {
    case State::idle:
      idle_line(l, core, extra);
      return;
    case State::ready:
      l.text("CLEAR? HOLD ENABLES AND ADVANCE");
      return;
    case State::settle:
      if (core.chosen || core.choice != Choice::none) {
        l.text(choice_text(core.choice));
      } else {
        l.text(core.timer < control::flight_timing.settle ? "WAIT"
               : core.biting                              ? "CONFIRM TO SEAT, THE NEXT STROKE FOLLOWS"
                                                          : "CONFIRM TO SEAT");
      }
      return;
    case State::stopped:
      stopped_line(l, core);
      return;
    case State::ended:
      ended_line(l, c);
      return;
    case State::set_up:
    case State::rig:
      l.text("HOLD ENABLES AND ADVANCE OR LOWER");
      return;
    case State::re_stroke:
      l.text(core.ram_back ? "RELEASE, THEN HOLD TO PULL ON" : "KEEP HOLDING ENABLES AND ADVANCE");
      return;
    case State::seat:
      l.text("KEEP HOLDING ENABLES AND ADVANCE");
      return;
    case State::lowering:
      l.text("KEEP HOLDING ENABLES AND LOWER");
      return;
    default:
      l.text("KEEP HOLDING, KEEP CLEAR");
      return;
  }
}

}  // namespace

Line& Line::text(std::string_view s) {
  for (const char c : s) {
    if (size_ < display_columns) {
      text_[size_++] = c;
    }
  }
  text_[size_] = '\0';
  return *this;
}

Line& Line::number(std::int32_t value) {
  std::array<char, 11> digits{};
  std::size_t n = 0;
  auto rest = value < 0 ? 0U - static_cast<std::uint32_t>(value) : static_cast<std::uint32_t>(value);
  do {
    digits[n++] = static_cast<char>('0' + rest % 10U);
    rest /= 10U;
  } while (rest != 0);
  if (value < 0) {
    text("-");
  }
  while (n > 0) {
    text({&digits[--n], 1});
  }
  return *this;
}

Line& Line::tenths(std::int32_t value) {
  if (value < 0) {
    text("-");
  }
  // The magnitude of the lowest number does not fit back: the parts are made positive one by one.
  const std::int32_t whole = value / 10;
  const std::int32_t part = value % 10;
  return number(whole < 0 ? -whole : whole).text(".").number(part < 0 ? -part : part);
}

Line& Line::fingerprint(const link::Fingerprint& f) {
  constexpr std::string_view digits = "0123456789abcdef";
  for (std::size_t i = 0; i < f.size(); ++i) {
    text(i != 0 && i % 2 == 0 ? " " : "")
        .text(digits.substr(f[i] >> 4U, 1))
        .text(digits.substr(f[i] & 0xFU, 1));
  }
  return *this;
}

void compose(Display& d, const Controller& c, const DisplayExtra& extra) {
  for (Line& l : d) {
    l.clear();
  }
  d[0].text(text_of(c.core().load));
  if (question_lines(d, extra)) {
    return;
  }
  state_line(d[1], c.core());
  force_line(d[2], c);
  action_line(d[3], c, extra);
}

}  // namespace strandproof::app
