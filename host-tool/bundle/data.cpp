#include "host-tool/bundle/data.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <type_traits>

#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/bundle/data_fields.hpp"

namespace strandproof::host::bundle {
namespace {

using Json = nlohmann::ordered_json;

constexpr const char* format_name = "strandproof bundle";

template <std::size_t N>
std::string hex_of(const std::array<std::uint8_t, N>& a) {
  return to_hex({reinterpret_cast<const char*>(a.data()), N});
}

class Out {
 public:
  template <class T>
  void operator()(const char* name, const T& value) {
    if constexpr (std::is_enum_v<T>) {
      json[name] = static_cast<std::uint32_t>(value);
    } else {
      json[name] = value;
    }
  }
  void raw(const char* name, const std::string& value) { json[name] = to_hex(value); }
  template <std::size_t N>
  void bytes(const char* name, const std::array<std::uint8_t, N>& value) {
    json[name] = hex_of(value);
  }
  void maybe_bytes(const char* name, const std::optional<proto::Key>& value) {
    json[name] = value ? Json(hex_of(*value)) : Json(nullptr);
  }
  template <class T>
  void maybe(const char* name, std::optional<T>& value);
  void keys(const char* name, const std::map<std::uint32_t, proto::Key>& keys) {
    json[name] = Json::array();
    for (const auto& [epoch, key] : keys) json[name].push_back({epoch, hex_of(key)});
  }
  Json json = Json::object();
};

template <class T>
Json written(T& value) {
  Out out;
  fields(out, value);
  return out.json;
}

template <class T>
void Out::maybe(const char* name, std::optional<T>& value) {
  json[name] = value ? written(*value) : Json(nullptr);
}

// What at() and get() of the JSON library throw names the field.
class In {
 public:
  explicit In(const Json& from) : json_{from} {}
  template <class T>
  void operator()(const char* name, T& value) {
    if constexpr (std::is_enum_v<T>) {
      value = static_cast<T>(json_.at(name).get<std::uint32_t>());
    } else {
      value = json_.at(name).get<T>();
    }
  }
  void raw(const char* name, std::string& value) { value = unhex(json_.at(name), name); }
  template <std::size_t N>
  void bytes(const char* name, std::array<std::uint8_t, N>& value) {
    take(unhex(json_.at(name), name), name, value);
  }
  void maybe_bytes(const char* name, std::optional<proto::Key>& value) {
    if (!json_.at(name).is_null()) bytes(name, value.emplace());
  }
  template <class T>
  void maybe(const char* name, std::optional<T>& value) {
    if (json_.at(name).is_null()) return;
    In in{json_.at(name)};
    fields(in, value.emplace());
  }
  void keys(const char* name, std::map<std::uint32_t, proto::Key>& keys) {
    for (const auto& pair : json_.at(name))
      take(unhex(pair.at(1), name), name, keys[pair.at(0).get<std::uint32_t>()]);
  }

 private:
  static std::string unhex(const Json& from, const char* name) {
    auto bytes = from_hex(from.get<std::string>());
    if (!bytes) throw bad_input(fmt::format("field {} is no hexadecimal text", name));
    return *bytes;
  }
  template <std::size_t N>
  static void take(const std::string& from, const char* name, std::array<std::uint8_t, N>& to) {
    if (from.size() != N) throw bad_input(fmt::format("field {} is not of {} bytes", name, N));
    std::copy(from.begin(), from.end(), reinterpret_cast<char*>(to.data()));
  }
  const Json& json_;
};

template <class T>
std::string list_text(const char* name, const std::vector<T>& list) {
  std::string text = fmt::format(",\n\"{}\":[", name);
  for (T one : list) text += (text.ends_with('[') ? "\n" : ",\n") + written(one).dump();
  return text + "]";
}

template <class T>
void read_list(const Json& top, const char* name, std::vector<T>& into) {
  for (const Json& one : top.at(name)) {
    In in{one};
    fields(in, into.emplace_back());
  }
}

// Each key above the one before: none twice, and one order for the same data.
template <class T, class Key>
void demand_rising(const std::vector<T>& list, const char* what, Key key) {
  for (std::size_t i = 1; i < list.size(); ++i) {
    if (!(key(list[i - 1]) < key(list[i])))
      throw bad_input(fmt::format("{} {} of {} is doubled or out of order", what, i + 1, list.size()));
  }
}

void demand_order(const Data& d) {
  using Pair = std::pair<std::uint64_t, std::uint64_t>;
  demand_rising(d.jacks, "jack", [](const auto& j) { return j.serial; });
  demand_rising(d.records, "record", [](const auto& r) { return Pair{r.device, r.sequence}; });
  demand_rising(d.instructions, "instruction", [](const auto& i) { return Pair{i.device, i.id}; });
  demand_rising(d.tables, "table", [](const auto& t) { return Pair{t.device, t.revision}; });
  demand_rising(d.documents, "document", [](const auto& f) { return f.sha256_hex; });
  for (const auto& r : d.records) {
    if (std::ranges::find(d.jacks, r.device, &Jack::serial) == d.jacks.end())
      throw bad_input(
          fmt::format("record {} is of jack {}, which is none of its jacks", r.sequence, r.device));
  }
}

Data read(const Json& top) {
  const auto version = top.at("version").get<std::uint32_t>();
  if (top.at("format") != format_name) throw bad_input("is no strandproof bundle; name another file");
  if (version > format_version)
    throw bad_input(
        fmt::format("made by a newer strandproof (form {}, this one knows {}); use the newer program",
                    version, format_version));
  Data d;
  d.page = top.at("page").get<std::uint32_t>();
  d.host = top.at("host").get<std::uint64_t>();
  In scope{top.at("scope")};
  fields(scope, d.scope);
  read_list(top, "jacks", d.jacks);
  read_list(top, "records", d.records);
  read_list(top, "instructions", d.instructions);
  read_list(top, "tables", d.tables);
  read_list(top, "history", d.history);
  read_list(top, "entries", d.entries);
  read_list(top, "documents", d.documents);
  read_list(top, "seen", d.seen);
  demand_order(d);
  return d;
}

std::size_t first_difference(const std::string& a, const std::string& b) {
  return static_cast<std::size_t>(std::ranges::mismatch(a, b).in1 - a.begin());
}

}  // namespace

std::string to_text(const Data& d) {
  Scope scope = d.scope;
  std::string text = fmt::format("{{\"format\":\"{}\",\"version\":{},\"page\":{},\"host\":{},\n\"scope\":{}",
                                 format_name, format_version, d.page, d.host, written(scope).dump());
  text += list_text("jacks", d.jacks) + list_text("records", d.records) +
          list_text("instructions", d.instructions) + list_text("tables", d.tables) +
          list_text("history", d.history) + list_text("entries", d.entries) +
          list_text("documents", d.documents) + list_text("seen", d.seen) + "}";
  // "</script" inside a text would end the block for a browser.
  for (auto at = text.find('<'); at != std::string::npos; at = text.find('<', at))
    text.replace(at, 1, "\\u003c");
  return text;
}

Data from_text(const std::string& text, const std::string& name) {
  const std::string remedy = "; ask for the bundle again, or make it again out of the archive";
  try {
    Data data = read(Json::parse(text));
    const std::string again = to_text(data);
    if (again != text)
      throw bad_input(fmt::format("is not in the form that this program writes, from byte {} on",
                                  first_difference(text, again)));
    return data;
  } catch (const Json::exception& e) {
    throw bad_input(fmt::format("{}: data block: damaged or cut: {}{}", name, shown(e.what(), 160), remedy));
  } catch (const Problem& p) {
    throw bad_input(fmt::format("{}: data block: {}{}", name, shown(p.what(), 200), remedy));
  }
}

}  // namespace strandproof::host::bundle
