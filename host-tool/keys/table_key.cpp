#include "host-tool/keys/table_key.hpp"

#include <fmt/core.h>
#include <sodium.h>

#include <algorithm>
#include <charconv>
#include <filesystem>
#include <sstream>

#include "host-tool/base/files.hpp"
#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/keys/private_file.hpp"

namespace strandproof::host::keys {
namespace {

constexpr const char* first_words = "strandproof table key ";
constexpr const char* version = "1";
constexpr unsigned owner_only = 0600;
constexpr std::size_t name_max = 15;  // of TableKeyRequest
constexpr std::size_t seed_size = crypto_sign_SEEDBYTES;

using BoxKey = std::array<unsigned char, crypto_secretbox_KEYBYTES>;

struct Content {
  TableKeyFile open;
  Cost cost{};
  std::string salt, box;  // box: nonce, then tag and cipher text
};

const unsigned char* raw(const std::string& bytes) {
  return reinterpret_cast<const unsigned char*>(bytes.data());
}
unsigned char* raw(std::string& bytes) {
  return reinterpret_cast<unsigned char*>(bytes.data());
}

Problem damaged(const std::string& file, const std::string& what) {
  return bad_input(
      fmt::format("{}: {}; take the backup copy of this key, or make and enrol another one", file, what));
}

void check_name(const std::string& name) {
  const bool good = !name.empty() && name.size() <= name_max &&
                    std::all_of(name.begin(), name.end(), [](char c) { return c >= ' ' && c <= '~'; });
  if (!good) {
    throw bad_input(
        fmt::format("a table key's name has 1 to {} plain ASCII characters; give --name", name_max));
  }
}

std::string random_bytes(std::size_t n) {
  std::string bytes(n, '\0');
  randombytes_buf(bytes.data(), n);
  return bytes;
}

proto::TableKey key_of_seed(const Secret& seed) {
  proto::Key bytes{};
  std::copy_n(seed.bytes().begin(), bytes.size(), reinterpret_cast<char*>(bytes.data()));
  proto::TableKey key{bytes};
  sodium_memzero(bytes.data(), bytes.size());
  return key;
}

BoxKey key_of(const Secret& passphrase, const std::string& salt, Cost cost) {
  BoxKey key{};
  const std::size_t memory = std::size_t{cost.memory_kib} * 1024;
  if (crypto_pwhash(key.data(), key.size(), passphrase.bytes().data(), passphrase.bytes().size(), raw(salt),
                    cost.passes, memory, crypto_pwhash_ALG_ARGON2ID13) != 0) {
    throw bad_input(
        fmt::format("{} MiB of memory are needed to use a table key and are not free; close "
                    "other programs and try again",
                    cost.memory_kib / 1024));
  }
  return key;
}

void write_key(const std::string& file, const TableKeyFile& open, const Secret& seed,
               const Secret& passphrase, Cost cost) {
  const std::string salt = random_bytes(crypto_pwhash_SALTBYTES);
  auto key = key_of(passphrase, salt, cost);
  const Secret plain{seed.bytes() + open.name};
  std::string box = random_bytes(crypto_secretbox_NONCEBYTES);
  const std::string nonce = box;
  box.resize(nonce.size() + crypto_secretbox_MACBYTES + plain.bytes().size());
  crypto_secretbox_easy(raw(box) + nonce.size(), raw(plain.bytes()), plain.bytes().size(), raw(nonce),
                        key.data());
  sodium_memzero(key.data(), key.size());
  const std::string public_hex =
      to_hex({reinterpret_cast<const char*>(open.public_key.data()), open.public_key.size()});
  write_file(file,
             fmt::format("{}{}\nname {}\npublic {}\nargon2id {} {}\nsalt {}\nbox {}\n", first_words, version,
                         open.name, public_hex, cost.passes, cost.memory_kib, to_hex(salt), to_hex(box)),
             owner_only);
}

// The lines of the file in their order; each begins with its word.
class Lines {
 public:
  Lines(const std::string& text, std::string file) : in_{text}, file_{std::move(file)} {}

  std::string after(const std::string& word) {
    std::string line;
    if (!std::getline(in_, line) || !line.starts_with(word))
      throw damaged(file_, fmt::format("its line '{}' is missing", word));
    return line.substr(word.size());
  }

  std::string hex_after(const std::string& word, std::size_t least, std::size_t most) {
    const auto bytes = from_hex(after(word));
    if (!bytes || bytes->size() < least || bytes->size() > most)
      throw damaged(file_, fmt::format("its line '{}' is damaged", word));
    return *bytes;
  }

 private:
  std::istringstream in_;
  std::string file_;
};

// A doctored file must not be able to use up the computer's memory.
Cost read_cost(const std::string& text, const std::string& file) {
  Cost cost{};
  const char* end = text.data() + text.size();
  const auto passes = std::from_chars(text.data(), end, cost.passes);
  const bool more = passes.ec == std::errc{} && passes.ptr != end && *passes.ptr == ' ';
  if (!more) throw damaged(file, "its line 'argon2id' is damaged");
  const auto memory = std::from_chars(passes.ptr + 1, end, cost.memory_kib);
  if (memory.ec != std::errc{} || memory.ptr != end) throw damaged(file, "its line 'argon2id' is damaged");
  if (cost.passes == 0 || cost.passes > largest_cost.passes || cost.memory_kib < 8 ||
      cost.memory_kib > largest_cost.memory_kib)
    throw damaged(file, "its cost is out of bounds");
  return cost;
}

Content read_content(const std::string& file) {
  Lines lines{read_private(file,
                           "make a table key with 'strandproof key table-new', or name its file with "
                           "--table-key"),
              file};
  const std::string of_file = lines.after(first_words);
  if (of_file != version) {
    throw bad_input(fmt::format("{}: a key file of version {}, this program knows {}; use a newer program",
                                file, shown(of_file), version));
  }
  Content c;
  c.open.name = lines.after("name ");
  check_name(c.open.name);
  const std::string public_key =
      lines.hex_after("public ", c.open.public_key.size(), c.open.public_key.size());
  std::copy(public_key.begin(), public_key.end(), reinterpret_cast<char*>(c.open.public_key.data()));
  c.cost = read_cost(lines.after("argon2id "), file);
  c.salt = lines.hex_after("salt ", crypto_pwhash_SALTBYTES, crypto_pwhash_SALTBYTES);
  constexpr std::size_t around = crypto_secretbox_NONCEBYTES + crypto_secretbox_MACBYTES + seed_size;
  c.box = lines.hex_after("box ", around, around + name_max);
  return c;
}

Secret open_seed(const std::string& file, const Content& c, const Secret& passphrase) {
  auto key = key_of(passphrase, c.salt, c.cost);
  std::string plain(c.box.size() - crypto_secretbox_NONCEBYTES - crypto_secretbox_MACBYTES, '\0');
  const int wrong =
      crypto_secretbox_open_easy(raw(plain), raw(c.box) + crypto_secretbox_NONCEBYTES,
                                 c.box.size() - crypto_secretbox_NONCEBYTES, raw(c.box), key.data());
  sodium_memzero(key.data(), key.size());
  const Secret opened{std::move(plain)};
  if (wrong != 0)
    throw refused(fmt::format("{}: the passphrase does not open it; try again, or take another key", file));
  Secret seed{opened.bytes().substr(0, seed_size)};
  const bool same =
      opened.bytes().substr(seed_size) == c.open.name && key_of_seed(seed).public_key() == c.open.public_key;
  if (!same) throw damaged(file, "its name or public key was changed");
  return seed;
}

}  // namespace

TableKeyFile make_table_key(const std::string& file, const std::string& name, const Secret& passphrase,
                            Cost cost) {
  proto::require_sodium();
  check_name(name);
  if (std::filesystem::exists(file))
    throw refused(file + ": is there already and is never written over; name another file");
  const Secret seed{random_bytes(seed_size)};
  const TableKeyFile made{name, key_of_seed(seed).public_key()};
  write_key(file, made, seed, passphrase, cost);
  return made;
}

TableKeyFile read_table_key(const std::string& file) {
  return read_content(file).open;
}

proto::TableKey open_table_key(const std::string& file, const Secret& passphrase) {
  proto::require_sodium();
  return key_of_seed(open_seed(file, read_content(file), passphrase));
}

void change_passphrase(const std::string& file, const Secret& old_one, const Secret& new_one, Cost cost) {
  proto::require_sodium();
  const Content c = read_content(file);
  write_key(file, c.open, open_seed(file, c, old_one), new_one, cost);
}

std::string fingerprint(const proto::Key& public_key) {
  const std::string hash = sha256_hex({reinterpret_cast<const char*>(public_key.data()), public_key.size()});
  return fmt::format("{} {} {} {}", hash.substr(0, 4), hash.substr(4, 4), hash.substr(8, 4),
                     hash.substr(12, 4));
}

}  // namespace strandproof::host::keys
