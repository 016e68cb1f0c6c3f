#include "firmware/app/texts.hpp"

namespace strandproof::app {

using namespace std::string_view_literals;

#define STATE(number, id, text) \
  case control::State::id:      \
    return text##sv;
std::string_view text_of(control::State s) {
  switch (s) {
#include "proto/catalogue.def"
  }
  return {};
}

#define LOAD(number, id, text) \
  case control::LoadState::id: \
    return text##sv;
std::string_view text_of(control::LoadState l) {
  switch (l) {
#include "proto/catalogue.def"
  }
  return {};
}

#define CAUSE(number, id, what, remedy) \
  case control::Cause::id:              \
    return what##sv;
std::string_view what_of(control::Cause c) {
  switch (c) {
#include "proto/catalogue.def"
  }
  return {};
}

#define CAUSE(number, id, what, remedy) \
  case control::Cause::id:              \
    return remedy##sv;
std::string_view remedy_of(control::Cause c) {
  switch (c) {
#include "proto/catalogue.def"
  }
  return {};
}

#define VERDICT(number, id, text) \
  case control::Verdict::id:      \
    return text##sv;
std::string_view text_of(control::Verdict v) {
  switch (v) {
#include "proto/catalogue.def"
  }
  return {};
}

#define REFUSAL(number, id, why, remedy) \
  case control::Refusal::id:             \
    return why##sv;
std::string_view why_of(control::Refusal r) {
  switch (r) {
#include "proto/catalogue.def"
  }
  return {};
}

#define PART(number, id, text) \
  case number:                 \
    return text##sv;
std::string_view text_of_part(unsigned part) {
  switch (part) {
#include "proto/catalogue.def"
    default:
      return {};
  }
}

}  // namespace strandproof::app
