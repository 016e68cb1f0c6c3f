#include "firmware/record/entry.hpp"

#include <algorithm>
#include <array>

#include "proto/crc32c.hpp"
#include "proto/little_endian.hpp"

namespace strandproof::record {

namespace {

constexpr std::uint32_t chunk_size = 64;  // bytes on the stack at once
using Chunk = std::array<std::uint8_t, chunk_size>;
using HeaderBytes = std::array<std::uint8_t, entry_header_size>;

HeaderBytes encode(const RecordHeader& header) {
  HeaderBytes bytes{};
  proto::put_u64(header.sequence, bytes.data());
  proto::put_u64(header.tick, bytes.data() + 8);
  proto::put_u32(header.boot, bytes.data() + 16);
  proto::put_u16(header.length, bytes.data() + 20);
  bytes[22] = header.kind;
  return bytes;
}

RecordHeader decode(const std::uint8_t* bytes) {
  return {.sequence = proto::get_u64(bytes),
          .tick = proto::get_u64(bytes + 8),
          .boot = proto::get_u32(bytes + 16),
          .length = proto::get_u16(bytes + 20),
          .kind = bytes[22]};
}

// True if something that can be a header lies there and its entry would end at or before limit.
bool read_header(const port::Flash& flash, std::uint32_t address, std::uint32_t limit, HeaderBytes& bytes,
                 RecordHeader& header) {
  if (address + entry_size(0) > limit || !flash.read(address, bytes)) {
    return false;
  }
  header = decode(bytes.data());
  return header.sequence != 0 && bytes[23] == 0 && address + entry_size(header.length) <= limit;
}

bool reads_back(const port::Flash& flash, std::uint32_t address, std::span<const std::uint8_t> expected) {
  Chunk chunk{};
  for (std::size_t at = 0; at < expected.size(); at += chunk_size) {
    const std::span<const std::uint8_t> part =
        expected.subspan(at, std::min<std::size_t>(chunk_size, expected.size() - at));
    const std::span<std::uint8_t> got{chunk.data(), part.size()};
    if (!flash.read(address + static_cast<std::uint32_t>(at), got) ||
        !std::equal(part.begin(), part.end(), got.begin())) {
      return false;
    }
  }
  return true;
}

bool program_verified(port::Flash& flash, std::uint32_t address, std::span<const std::uint8_t> bytes) {
  return bytes.empty() || (flash.program(address, bytes) && reads_back(flash, address, bytes));
}

// The body's last, incomplete 8 bytes, filled with zeros.
bool write_body(port::Flash& flash, std::uint32_t address, std::span<const std::uint8_t> body) {
  const std::size_t whole = body.size() / entry_align * entry_align;
  if (!program_verified(flash, address, body.first(whole))) {
    return false;
  }
  if (whole == body.size()) {
    return true;
  }
  std::array<std::uint8_t, entry_align> rest{};
  std::copy(body.begin() + static_cast<std::ptrdiff_t>(whole), body.end(), rest.begin());
  return program_verified(flash, address + static_cast<std::uint32_t>(whole), rest);
}

// Reads the body through, copying what fits, and carries the CRC on over it and its fill.
bool read_body(const port::Flash& flash, std::uint32_t address, std::uint32_t length,
               std::span<std::uint8_t> into, std::uint32_t& crc) {
  Chunk chunk{};
  const std::uint32_t stored = aligned(length);
  for (std::uint32_t at = 0; at < stored; at += chunk_size) {
    const std::span<std::uint8_t> part{chunk.data(), std::min(chunk_size, stored - at)};
    if (!flash.read(address + at, part)) {
      return false;
    }
    crc = proto::crc32c(part, crc);
    const std::size_t wanted =
        std::min<std::size_t>(std::min<std::size_t>(length, into.size()), at + part.size());
    if (wanted > at) {
      std::copy_n(part.begin(), wanted - at, into.begin() + at);
    }
  }
  return true;
}

}  // namespace

bool write_entry(port::Flash& flash, std::uint32_t address, const RecordHeader& header,
                 std::span<const std::uint8_t> body) {
  const auto head = encode(header);
  const std::uint32_t stored = aligned(static_cast<std::uint32_t>(body.size()));
  constexpr std::array<std::uint8_t, entry_align> zeros{};
  const std::uint32_t crc =
      proto::crc32c(std::span{zeros}.first(stored - body.size()), proto::crc32c(body, proto::crc32c(head)));
  std::array<std::uint8_t, entry_trailer_size> trailer{};
  proto::put_u32(crc, trailer.data());
  const std::uint32_t trailer_at = address + entry_header_size + stored;
  return program_verified(flash, address, head) && write_body(flash, address + entry_header_size, body) &&
         program_verified(flash, trailer_at, trailer) &&
         write_mark(flash, trailer_at + entry_trailer_size, commit_mark);
}

bool read_entry(const port::Flash& flash, std::uint32_t address, std::uint32_t limit, RecordHeader& header,
                std::span<std::uint8_t> into) {
  HeaderBytes head{};
  RecordHeader found;
  if (!read_header(flash, address, limit, head, found)) {
    return false;
  }
  const std::uint32_t trailer_at = address + entry_header_size + aligned(found.length);
  if (!has_mark(flash, trailer_at + entry_trailer_size, commit_mark)) {
    return false;
  }
  std::uint32_t crc = proto::crc32c(head);
  std::array<std::uint8_t, entry_trailer_size> trailer{};
  if (!read_body(flash, address + entry_header_size, found.length, into, crc) ||
      !flash.read(trailer_at, trailer) || proto::get_u64(trailer.data()) != crc) {
    return false;
  }
  header = found;
  return true;
}

void void_entry(port::Flash& flash, std::uint32_t address, std::uint32_t limit) {
  HeaderBytes head{};
  RecordHeader found;
  if (read_header(flash, address, limit, head, found)) {
    // A flash that refuses leaves the entry as it is: no worse than before.
    (void)write_mark(flash, address + entry_size(found.length) - mark_size, 0);
  }
}

bool find_entry(const port::Flash& flash, std::uint32_t& address, std::uint32_t limit, RecordHeader& header,
                std::span<std::uint8_t> into) {
  if (read_entry(flash, address, limit, header, into)) {
    return true;
  }
  const std::uint32_t end = end_of_written(flash, address, limit);
  for (std::uint32_t at = address + entry_align; at < end; at += entry_align) {
    if (read_entry(flash, at, limit, header, into)) {
      address = at;
      return true;
    }
  }
  return false;
}

bool confirm_entry(port::Flash& flash, std::uint32_t address, std::uint16_t length) {
  return write_mark(flash, address + entry_size(length) - mark_size, commit_mark);
}

bool write_mark(port::Flash& flash, std::uint32_t address, std::uint64_t value) {
  std::array<std::uint8_t, mark_size> bytes{};
  proto::put_u64(value, bytes.data());
  return program_verified(flash, address, bytes);
}

bool has_mark(const port::Flash& flash, std::uint32_t address, std::uint64_t value) {
  std::array<std::uint8_t, mark_size> bytes{};
  return flash.read(address, bytes) && proto::get_u64(bytes.data()) == value;
}

bool make_ready(port::Flash& flash, std::uint32_t page_address) {
  // The old mark goes first: a page whose erase was cut short never passes for a ready one.
  return write_mark(flash, page_address, 0) && flash.erase(page_address) &&
         is_erased(flash, page_address, page_address + flash.page_size()) &&
         write_mark(flash, page_address, ready_mark);
}

bool is_erased(const port::Flash& flash, std::uint32_t from, std::uint32_t to) {
  return end_of_written(flash, from, to) == from;
}

std::uint32_t end_of_written(const port::Flash& flash, std::uint32_t from, std::uint32_t to) {
  constexpr Chunk erased = [] {
    Chunk c{};
    c.fill(0xFF);
    return c;
  }();
  Chunk chunk = erased;
  for (std::uint32_t end = to; end > from;) {
    const std::uint32_t size = std::min(chunk_size, end - from);
    const std::span part = std::span{chunk}.first(size);  // of the last one: the rest is erased, as it was
    if (!flash.read(end - size, part) || chunk != erased) {
      return end;
    }
    end -= size;
  }
  return from;
}

}  // namespace strandproof::record
