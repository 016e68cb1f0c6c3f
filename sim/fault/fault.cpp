#include "sim/fault/fault.hpp"

#include <cmath>
#include <utility>

namespace strandproof::sim::fault {

const Row* find(std::string_view name) {
  for (const Row& row : table) {
    if (row.name == name) {
      return &row;
    }
  }
  return nullptr;
}

std::vector<std::string_view> names() {
  std::vector<std::string_view> all;
  for (const Row& row : table) {
    all.push_back(row.name);
  }
  return all;
}

Watch::Watch(std::vector<Fault> faults)
    : faults_{std::move(faults)},
      began_(faults_.size(), -1.0),
      on_(faults_.size(), false),
      pending_{!faults_.empty()} {}

void Watch::add(Fault fault) {
  faults_.push_back(fault);
  began_.push_back(-1.0);
  on_.push_back(false);
  pending_ = true;
}

namespace {

bool reached(const Trigger& trigger, double time_s, double force_n, double stroke_m, std::uint8_t state) {
  switch (trigger.by) {
    case By::time:
      return time_s >= trigger.at;
    case By::force:
      return force_n >= trigger.at;
    case By::stroke:
      return stroke_m >= trigger.at;
    case By::state:
      return state == trigger.at;
  }
  return false;
}

}  // namespace

void Watch::begin_and_end(double time_s, double force_n, double stroke_m) {
  pending_ = false;
  for (std::size_t i = 0; i < faults_.size(); ++i) {
    if (began_[i] < 0.0 && reached(faults_[i].trigger, time_s, force_n, stroke_m, state_)) {
      began_[i] = time_s;
      turn(i, true);
    }
    if (on_[i] && time_s >= began_[i] + faults_[i].lasts) {
      turn(i, false);
    }
    pending_ = pending_ || began_[i] < 0.0 || (on_[i] && std::isfinite(faults_[i].lasts));
  }
}

void Watch::end(const Row& row, double time_s) {
  for (std::size_t i = 0; i < faults_.size(); ++i) {
    if (faults_[i].row == &row && on_[i]) {
      turn(i, false);
      faults_[i].lasts = time_s - began_[i];
    }
  }
}

void Watch::turn(std::size_t i, bool on) {
  on_[i] = on;
  on_count_ += on ? 1U : static_cast<std::size_t>(-1);
  ++changes_;
}

const Fault* Watch::search(Place place, Effect effect) const {
  for (std::size_t i = 0; i < faults_.size(); ++i) {
    if (on_[i] && faults_[i].row->place == place && faults_[i].row->effect == effect) {
      return &faults_[i];
    }
  }
  return nullptr;
}

double Watch::since(const Fault& fault) const {
  for (std::size_t i = 0; i < faults_.size(); ++i) {
    if (&faults_[i] == &fault) {
      return began_[i];
    }
  }
  return 0.0;
}

}  // namespace strandproof::sim::fault
