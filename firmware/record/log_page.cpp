#include "firmware/record/log_page.hpp"

#include <algorithm>
#include <bit>
#include <span>

#include "proto/crc32c.hpp"
#include "proto/little_endian.hpp"

namespace strandproof::record {
namespace {

constexpr std::uint32_t magic = 0x4D52'5053U;  // "SPRM": the format and its version in one
constexpr std::uint32_t turn_at = 8;
constexpr std::uint32_t sequence_at = 16;
constexpr std::uint32_t retired_at = 24;
constexpr std::uint32_t crc_at = retired_at + PageSet::size;
static_assert(crc_at + 8 == log_page::header_size);

using Bytes = std::array<std::uint8_t, log_page::header_size>;

Bytes encode(std::uint32_t pages, const PageHeader& header) {
  Bytes bytes{};
  proto::put_u32(magic, bytes.data());
  proto::put_u32(pages, bytes.data() + 4);
  proto::put_u64(header.turn, bytes.data() + turn_at);
  proto::put_u64(header.first_sequence, bytes.data() + sequence_at);
  std::copy(header.retired.bytes().begin(), header.retired.bytes().end(), bytes.begin() + retired_at);
  proto::put_u32(proto::crc32c(std::span{bytes}.first(crc_at)), bytes.data() + crc_at);
  return bytes;
}

}  // namespace

std::uint32_t PageSet::count() const {
  std::uint32_t sum = 0;
  for (const std::uint8_t byte : bits_) {
    sum += static_cast<std::uint32_t>(std::popcount(byte));
  }
  return sum;
}

PageHeader read_page_header(const port::Flash& flash, std::uint32_t address, std::uint32_t pages) {
  Bytes found{};
  if (!has_mark(flash, address + log_page::open_at, commit_mark) || !flash.read(address + mark_size, found)) {
    return {};
  }
  PageHeader header{.turn = proto::get_u64(found.data() + turn_at),
                    .first_sequence = proto::get_u64(found.data() + sequence_at),
                    .retired = {}};
  std::copy_n(found.begin() + retired_at, PageSet::size, header.retired.bytes().begin());
  return found == encode(pages, header) ? header : PageHeader{};
}

bool open_page(port::Flash& flash, std::uint32_t address, std::uint32_t pages, const PageHeader& header) {
  const Bytes wanted = encode(pages, header);
  Bytes back{};
  return flash.program(address + mark_size, wanted) && flash.read(address + mark_size, back) &&
         back == wanted && write_mark(flash, address + log_page::open_at, commit_mark);
}

bool close_and_make_ready(port::Flash& flash, std::uint32_t address) {
  return write_mark(flash, address + log_page::open_at, 0) && make_ready(flash, address);
}

}  // namespace strandproof::record
