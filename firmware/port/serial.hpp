// The door to the byte stream that the link speaks over. Never blocks.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>

namespace strandproof::port {

class Serial {
 public:
  // Takes at most into.size() received bytes; returns how many.
  [[nodiscard]] virtual std::size_t read(std::span<std::uint8_t> into) = 0;
  // Room for this many bytes in the send buffer right now.
  [[nodiscard]] virtual std::size_t writable() const = 0;
  // Bytes in the send buffer that have not left yet.
  [[nodiscard]] virtual std::size_t waiting() const = 0;
  // Queues all of the bytes or, if there is no room, none of them (false).
  [[nodiscard]] virtual bool write(std::span<const std::uint8_t> bytes) = 0;

 protected:
  ~Serial() = default;
};

}  // namespace strandproof::port
