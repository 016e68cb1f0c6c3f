#include "host-tool/archive/copy.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <string_view>

#include "host-tool/archive/store.hpp"
#include "host-tool/base/files.hpp"
#include "host-tool/base/problem.hpp"

namespace strandproof::host::archive {
namespace {

namespace fs = std::filesystem;

// A table's columns, the key first; a leading '#' marks a number.
struct Shape {
  const char* table;
  const char* order;
  std::vector<std::string_view> columns;
};

const std::vector<Shape>& shapes() {
  static const std::vector<Shape> all{
      {"instruction",
       "device, id",
       {"#device", "#id", "#bed", "#position", "body_hex", "#sent_s", "#stiffness", "plan_sha256"}},
      {"gauge_table", "device, revision", {"#device", "#revision", "sha256", "json", "#loaded_s"}},
      {"history",
       "id",
       {"#id", "#device", "#act", "#at_s", "by_role", "why", "#revision", "sha256", "key_fingerprint",
        "#last_record", "#outcome", "details"}},
      {"entry",
       "number",
       {"#number", "#kind", "#at_s", "by_role", "#device", "#bed", "#sequence", "#outcome", "records_digest",
        "words", "content", "previous", "digest"}},
      {"document", "sha256", {"sha256", "name", "#kept_s", "body"}},
      {"jack_seen",
       "id",
       {"#id", "#device", "#at_s", "build", "#origin", "protocol", "#settings_revision", "#table_revision",
        "#clock_quality"}},
      {"removed", "device, sequence", {"#device", "#sequence", "#boot", "sha256", "#entry"}}};
  return all;
}

const Shape record_shape{
    "record",
    "sequence",
    {"#device", "#sequence", "#boot", "#tick_ms", "#kind", "#code", "#cause", "#utc_s", "#instruction",
     "#bed", "#position", "#reel", "#revision", "#stiffness", "strand", "body_hex"}};

constexpr std::uint64_t page = 20000;  // records held at once: PostgreSQL hands over a whole answer

bool is_number(std::string_view column) {
  return column.starts_with('#');
}
std::string_view name_of(std::string_view column) {
  return is_number(column) ? column.substr(1) : column;
}

std::string listed(const Shape& shape, const char* before) {
  std::string text;
  for (const auto column : shape.columns)
    text += fmt::format("{}{}{}", text.empty() ? "" : ", ", before, name_of(column));
  return text;
}

using Take = std::function<void(const Row&)>;

void read_table(Store& store, const Shape& shape, const std::string& where, const Take& take) {
  // Texts as bytes, not as the server's language sorts them.
  const std::string order = std::string_view{shape.order} == "sha256" && store.engine() == Engine::postgresql
                                ? "sha256 collate \"C\""
                                : shape.order;
  store.each(fmt::format("select {} from {} {} order by {}", listed(shape, ""), shape.table, where, order),
             shape.columns.size(), {}, take);
}

void read_records(const Archive& archive, const Take& take) {
  for (const auto device : archive.devices()) {
    std::string after = "0";
    for (std::uint64_t got = page; got == page;) {
      got = 0;
      Shape one_page = record_shape;
      const std::string order = fmt::format("sequence limit {}", page);
      one_page.order = order.c_str();
      read_table(archive.store(), one_page, fmt::format("where device = {} and sequence > {}", device, after),
                 [&](const Row& row) {
                   take(row);
                   after = row[1];
                   ++got;
                 });
    }
  }
}

class Digest {
 public:
  void take(const char* table, const Row& row) {
    std::string text = done_.digest_hex + table;
    for (const auto& field : row) text += fmt::format(":{}:{}", field.size(), field);
    done_.digest_hex = sha256_hex(text);
    ++done_.rows;
  }
  [[nodiscard]] const Copied& done() const { return done_; }

 private:
  Copied done_{};
};

class Inserter {
 public:
  Inserter(Store& into, const Shape& shape)
      : shape_{shape},
        store_{into},
        statement_{into,
                   fmt::format("insert into {} ({}) values ({})", shape.table, listed(shape, ""),
                               listed(shape, ":")),
                   shape.columns.size()} {}
  void take(const Row& row) {
    for (std::size_t i = 0; i < row.size(); ++i) {
      if (is_number(shape_.columns[i])) {
        statement_.set(i, store_.number(row[i]));
      } else {
        statement_.set(i, row[i]);
      }
    }
    (void)statement_.run();
  }

 private:
  Shape shape_;
  Store& store_;
  Store::Prepared statement_;
};

// Every row, in the order that the digest takes them.
void read_all(const Archive& archive, const std::function<Take(const Shape&)>& taker) {
  archive.store().in_transaction(
      [&] {
        for (const auto& shape : shapes()) read_table(archive.store(), shape, "", taker(shape));
        read_records(archive, taker(record_shape));
      },
      Access::reading);
}

Copied copy(const Archive& from, const Archive& to) {
  Digest digest;
  to.store().in_transaction([&] {
    read_all(from, [&](const Shape& shape) {
      auto into = std::make_shared<Inserter>(to.store(), shape);
      return [&digest, into, table = shape.table](const Row& row) {
        into->take(row);
        digest.take(table, row);
      };
    });
  });
  const Copied back = digest_of(to);
  if (back.digest_hex != digest.done().digest_hex)
    throw bad_input("archive " + to.store().name() +
                    ": reads back other than it was written; check the disk");
  return back;
}

void demand_absent(const std::string& file) {
  if (fs::exists(file)) throw bad_input(file + ": is there already; name another file");
}

// Built beside its place and moved there whole. What an earlier attempt left half done is thrown away.
class Aside {
 public:
  explicit Aside(const std::string& file) : file_{file}, part_{file + ".part"} {
    demand_absent(file);
    clear();
  }
  ~Aside() { clear(); }
  Aside(const Aside&) = delete;
  Aside& operator=(const Aside&) = delete;
  [[nodiscard]] const std::string& part() const { return part_; }
  void move_into_place() const {
    flush_to_disk(part_);
    fs::rename(part_, file_);
    flush_folder_of(file_);
  }

 private:
  void clear() const noexcept {
    std::error_code ignored;  // what can not be removed shows itself when the part is made again
    for (const char* end : {"", "-wal", "-shm", "-journal"}) fs::remove(part_ + end, ignored);
  }
  std::string file_, part_;
};

Copied copy_to_file(const Archive& from, const std::string& file, const Options& options) {
  const Aside aside{file};
  Copied done;
  {
    const Archive to{aside.part(), options};
    done = copy(from, to);
    (void)to.store().query("pragma journal_mode = delete", 1);  // one file, nothing beside it
  }
  aside.move_into_place();
  return done;
}

bool holds_anything(const Archive& a) {
  return digest_of(a).rows != 0;
}

}  // namespace

Copied digest_of(const Archive& archive) {
  Digest digest;
  read_all(archive, [&](const Shape& shape) {
    return [&digest, table = shape.table](const Row& row) { digest.take(table, row); };
  });
  return digest.done();
}

Copied back_up(const Archive& archive, const std::string& file) {
  return copy_to_file(archive, file, {});
}

Copied restore(const std::string& file, const std::string& place, const Options& options) {
  if (!fs::is_regular_file(file)) throw bad_input(file + ": is no file; name a backup");
  const bool to_file = place.find("://") == std::string::npos;
  if (to_file) demand_absent(place);
  // The backup is opened as a copy: opening an older one changes it.
  const Aside opened{
      (fs::temp_directory_path() / fmt::format("strandproof-restore-{}", ::getpid())).string()};
  fs::copy_file(file, opened.part());
  const Archive from{opened.part(), options};
  if (to_file) return copy_to_file(from, place, options);
  const Archive to{place, options};
  if (holds_anything(to))
    throw bad_input("archive " + to.store().name() + ": holds something already; restore into an empty one");
  return copy(from, to);
}

}  // namespace strandproof::host::archive
