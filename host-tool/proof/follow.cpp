#include "host-tool/proof/follow.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <utility>

namespace strandproof::host::proof {

std::vector<Finding> Follower::add(std::vector<Record> records) {
  if (records.empty()) {
    return {};
  }
  Question q;
  q.device = device_;
  q.host = host_;
  q.public_key = held_ ? held_->public_key : std::nullopt;
  // From the held head where these records go on from it; else from what has come since.
  const bool goes_on = held_ && records.front().sequence >= held_->sequence;
  q.held = so_far_ ? so_far_ : goes_on ? held_ : std::nullopt;
  q.records = std::move(records);
  Report report = verify(q);
  const auto at_head = std::ranges::find(q.records, held_ ? held_->sequence : 0, &Record::sequence);
  if (held_ && at_head != q.records.end()) {
    const auto seal = seal_of(at_head->body);
    if (!seal || seal->seal.link != held_->link) {
      report.findings.push_back(
          {Kind::other_past, held_->sequence, "is not the record that the held head was taken from"});
    }
  }
  if (report.findings.empty()) {
    so_far_ = report.head;
    if (held_ && so_far_->sequence >= held_->sequence) {
      so_far_->first = std::min(so_far_->first, held_->first);
    }
  }
  return report.findings;
}

std::vector<Finding> Follower::finish() const {
  if (!held_ || (so_far_ && so_far_->sequence >= held_->sequence)) {
    return {};
  }
  return {
      {Kind::truncated, so_far_ ? so_far_->sequence : 0,
       fmt::format("is the last one; the held head says that there are records up to {}", held_->sequence)}};
}

}  // namespace strandproof::host::proof
