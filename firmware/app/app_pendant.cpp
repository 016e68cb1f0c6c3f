// What a person answers at the pendant beside the pull: a pairing, a table key, a key to revoke, a changed
// part. While one is asked, select, confirm and reset answer it and nothing else.
#include "firmware/app/app.hpp"
#include "firmware/app/texts.hpp"
#include "proto/little_endian.hpp"

namespace strandproof::app {

using control::Refusal;

std::uint32_t first_four(const link::TableKey& k) {
  return proto::get_u32(link::fingerprint_of(k.key).data());
}

void App::answer_questions(control::Inputs& in) {
  const bool asked = session_.pairing_waits() || session_.key_waits() || chooser_.is_open();
  const Press press = keys_.take(in.is, asked);
  const bool moving_key = in.is.advance || in.is.lower || in.is.enable_1 || in.is.enable_2;
  if (press.any() || in.is.advance || in.is.lower) {
    extra_.refusal = Refusal::none;
  }
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
  } else if (chooser_.is_open()) {
    chooser_.lapse(now_);
    if (press.reset || moving_key) {
      chooser_.close();
    }
    answer_list(press);
  } else if (press.reset) {
    key_open_until_ = 0;
  }
  show_list();
}

void App::answer_list(const Press& press) {
  const bool keys = chooser_.list() == Chooser::List::revoke_key;
  if (press.select && chooser_.is_open()) {
    chooser_.next(keys ? shelf_.key_count() : part_count);
  } else if (press.confirm && chooser_.is_open() && chooser_.cursor() != 0) {
    keys ? revoke_chosen() : part_chosen();
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
  }
}

}  // namespace strandproof::app
