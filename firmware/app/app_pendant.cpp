// What a person answers at the pendant beside the pull: a pairing, a table key, a key to revoke, a changed
// part, the copies of the log. While one is asked, select, confirm and reset answer it and nothing else.
#include "firmware/app/app.hpp"
#include "firmware/app/texts.hpp"
#include "proto/little_endian.hpp"

namespace strandproof::app {

using control::Refusal;

std::uint32_t first_four(const link::TableKey& k) {
  return proto::get_u32(link::fingerprint_of(k.key).data());
}

namespace {

// As a host writes it: the highest digit first.
link::Fingerprint shown_id(std::uint64_t id) {
  link::Fingerprint shown{};
  for (std::size_t i = shown.size(); i-- > 0; id >>= 8U) {
    shown[i] = static_cast<std::uint8_t>(id);
  }
  return shown;
}

}  // namespace

void App::answer_questions(control::Inputs& in) {
  const bool asked = session_.pairing_waits() || session_.key_waits() || chooser_.is_open();
  const Press press = keys_.take(in.is, asked);
  if (press.any() || in.is.advance || in.is.lower) {
    extra_.refusal = Refusal::none;
  }
  if (asked) {
    answer(press, in.is.advance || in.is.lower || in.is.enable_1 || in.is.enable_2);
  } else if (press.reset) {
    key_open_until_ = 0;
  }
}

void App::answer(const Press& press, bool moving_key) {
  if (session_.pairing_waits()) {
    if (press.confirm) {
      session_.confirm_pairing();
    } else if (press.reset) {
      session_.refuse_pairing();
    }
  } else if (session_.key_waits()) {
    if (press.confirm) {
      session_.confirm_key();
    } else if (press.reset || moving_key) {
      session_.refuse_key();
    }
  } else {
    chooser_.lapse(now_);
    if (press.reset || moving_key) {
      chooser_.close();
    }
    answer_list(press);
  }
}

// Of the list that is open.
unsigned App::choices() const {
  switch (chooser_.list()) {
    case Chooser::List::revoke_key:
      return shelf_.key_count();
    case Chooser::List::part_changed:
      return part_count;
    case Chooser::List::copies:
      return 1U + copies_.count();  // how many are needed, then a copy each
    case Chooser::List::none:
      break;
  }
  return 0;
}

void App::answer_list(const Press& press) {
  if (press.select && chooser_.is_open()) {
    chooser_.next(choices());
  } else if (press.confirm && chooser_.is_open() && chooser_.cursor() != 0) {
    const Chooser::List list = chooser_.list();
    list == Chooser::List::revoke_key     ? revoke_chosen()
    : list == Chooser::List::part_changed ? part_chosen()
                                          : copies_chosen();
    chooser_.close();
  }
}

void App::revoke_chosen() {
  const unsigned index = chooser_.cursor() - 1U;
  const std::uint32_t mark = first_four(shelf_.keys()[index]);
  if (shelf_.revoke(index)) {
    event(EventCode::key_revoked, mark, record::Priority::fault);
  } else {
    extra_.refusal = Refusal::store_fault;
  }
}

void App::part_chosen() {
  if (shelf_.part_changed(static_cast<Part>(chooser_.cursor()), clock_.lower_bound(now_))) {
    event({.code = EventCode::part_changed,
           .detail = chooser_.cursor(),
           .value = static_cast<std::int32_t>(shelf_.revision())},
          record::Priority::fault);
  } else {
    extra_.refusal = Refusal::store_fault;
  }
}

void App::copies_chosen() {
  const unsigned n = chooser_.cursor();
  const std::uint64_t id = n == 1 ? 0 : copies_.at(n - 2U).id;
  if (n == 1 ? copies_.need(3U - copies_.needed()) : copies_.forget(n - 2U)) {
    event({.code = EventCode::copies,
           .detail = copies_.needed(),
           .value = static_cast<std::int32_t>(static_cast<std::uint32_t>(id))},
          record::Priority::fault);
  } else {
    extra_.refusal = Refusal::store_fault;
  }
}

void App::show_list() {
  using enum DisplayExtra::Ask;
  if (session_.key_waits()) {
    return;  // shown by show_key()
  }
  extra_.subject = {};
  const bool window = now_ < key_open_until_ && controller_.core().state == control::State::idle;
  extra_.ask = window ? key_window : nothing;
  const unsigned n = chooser_.cursor();
  if (chooser_.list() == Chooser::List::part_changed) {
    extra_.ask = part_changed;
    extra_.subject = text_of_part(n);
  } else if (chooser_.list() == Chooser::List::revoke_key) {
    extra_.ask = revoke_key;
    if (n != 0) {
      extra_.subject = shelf_.keys()[n - 1U].name.data();
      extra_.fingerprint = link::fingerprint_of(shelf_.keys()[n - 1U].key);
    }
  } else if (chooser_.list() == Chooser::List::copies) {
    extra_.ask = n == 1 ? copies_needed : forget_copy;
    extra_.copies_needed = copies_.needed();
    if (n > 1) {
      extra_.subject = copies_.at(n - 2U).name.data();
      extra_.fingerprint = shown_id(copies_.at(n - 2U).id);
    }
  }
}

}  // namespace strandproof::app
