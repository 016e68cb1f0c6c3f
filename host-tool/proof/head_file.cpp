#include "host-tool/proof/head_file.hpp"

#include <fmt/core.h>

#include <charconv>
#include <filesystem>
#include <map>
#include <sstream>

#include "host-tool/base/files.hpp"
#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"

namespace strandproof::host::proof {
namespace {

template <std::size_t N>
std::string hex(const std::array<std::uint8_t, N>& bytes) {
  return to_hex({reinterpret_cast<const char*>(bytes.data()), N});
}

// The lines of a head file; each take() says whether the value is there and of the right form.
class Lines {
 public:
  Lines(const std::string& text, std::vector<std::string>& replaced) {
    std::istringstream in{text};
    for (std::string line; std::getline(in, line);) {
      const auto space = line.find(' ');
      const std::string key = line.substr(0, space);
      const std::string value = space == std::string::npos ? "" : line.substr(space + 1);
      if (key == "replaced") {
        replaced.push_back(value);
      } else {
        good = values_.emplace(key, value).second && good;
      }
    }
  }

  template <class Number>
  void take(const std::string& key, Number& into) {
    const std::string& v = values_[key];
    const auto end = std::from_chars(v.data(), v.data() + v.size(), into);
    good = good && end.ec == std::errc{} && end.ptr == v.data() + v.size();
  }
  template <std::size_t N>
  void take(const std::string& key, std::array<std::uint8_t, N>& into) {
    const auto bytes = from_hex(values_[key]);
    good = good && bytes && bytes->size() == N;
    if (good) {
      std::copy(bytes->begin(), bytes->end(), reinterpret_cast<char*>(into.data()));
    }
  }
  template <class T>
  void take(const std::string& key, std::optional<T>& into) {
    if (values_[key] != "-") {
      take(key, into.emplace());
    }
  }

  bool good = true;

 private:
  std::map<std::string, std::string> values_;
};

}  // namespace

std::string head_path(const std::string& keys_folder, std::uint32_t device) {
  return (std::filesystem::path{keys_folder} / "heads" / fmt::format("{}.head", device)).string();
}

std::optional<HeldHead> load_head(const std::string& keys_folder, std::uint32_t device) {
  const std::string path = head_path(keys_folder, device);
  if (!std::filesystem::exists(path)) {
    return {};
  }
  HeldHead held;
  Lines lines{read_file(path), held.replaced};
  Head& h = held.head;
  std::uint32_t ends = 0;
  lines.take("device", h.device);
  lines.take("first", h.first);
  lines.take("sequence", h.sequence);
  lines.take("epoch", h.epoch);
  lines.take("ends_epoch", ends);
  lines.take("link", h.link);
  lines.take("tag", h.tag);
  lines.take("public_key", h.public_key);
  lines.take("signed_up_to", h.signed_up_to);
  lines.take("our_epochs", h.our_epochs);
  h.ends_epoch = ends != 0;
  if (!lines.good || h.device != device || h.sequence == 0) {
    throw bad_input(
        fmt::format("{}: damaged; restore it from a backup, or compare the head printed on the last "
                    "stressing record and remove the file",
                    path));
  }
  return held;
}

void save_head(const std::string& keys_folder, const HeldHead& held) {
  const Head& h = held.head;
  std::string text = fmt::format("device {}\nfirst {}\nsequence {}\nepoch {}\nends_epoch {}\n", h.device,
                                 h.first, h.sequence, h.epoch, h.ends_epoch ? 1 : 0);
  text += fmt::format("link {}\ntag {}\npublic_key {}\nsigned_up_to {}\nour_epochs {}\n", hex(h.link),
                      hex(h.tag), h.public_key ? hex(*h.public_key) : "-", h.signed_up_to,
                      h.our_epochs ? fmt::format("{}", *h.our_epochs) : "-");
  for (const std::string& r : held.replaced) {
    text += "replaced " + r + "\n";
  }
  const std::string path = head_path(keys_folder, h.device);
  std::error_code error;
  std::filesystem::create_directories(std::filesystem::path{path}.parent_path(),
                                      error);  // write_file says why not
  write_file(path, text, 0600);
}

std::string fingerprint_text(const proto::Key& key) {
  const std::string all = hex(proto::fingerprint_of(key));
  return fmt::format("{} {} {} {}", all.substr(0, 4), all.substr(4, 4), all.substr(8, 4), all.substr(12, 4));
}

std::string head_line(const Head& head) {
  const std::string link = hex(head.link);
  return fmt::format(
      "log of jack {} held up to record {}, head {} {} {} {}, signed up to record {} with key {}",
      head.device, head.sequence, link.substr(0, 4), link.substr(4, 4), link.substr(8, 4), link.substr(12, 4),
      head.signed_up_to, head.public_key ? fingerprint_text(*head.public_key) : "(none yet)");
}

}  // namespace strandproof::host::proof
