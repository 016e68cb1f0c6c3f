#include "tests/accuracy/seeds.hpp"

#include <cstdio>
#include <cstdlib>
#include <cstring>

namespace strandproof::sim {

bool read_arguments(int argc, char** argv, SeedArguments& into) {
  for (int i = 1; i < argc; ++i) {
    const bool more = i + 1 < argc;
    if (std::strcmp(argv[i], "--worst") == 0) {
      into.worst = true;
    } else if (more && std::strcmp(argv[i], "--seeds") == 0) {
      into.seeds = std::strtoul(argv[++i], nullptr, 10);
    } else if (more && std::strcmp(argv[i], "--first") == 0) {
      into.first = std::strtoull(argv[++i], nullptr, 10);
    } else if (more && std::strcmp(argv[i], "--threads") == 0) {
      into.threads = static_cast<unsigned>(std::strtoul(argv[++i], nullptr, 10));
    } else {
      std::fprintf(stderr, "%s: unknown argument %s; use --seeds N --first SEED --threads N --worst\n",
                   argv[0], argv[i]);
      return false;
    }
  }
  if (into.seeds == 0 || into.threads == 0) {
    std::fprintf(stderr, "%s: --seeds and --threads are at least 1\n", argv[0]);
    return false;
  }
  return true;
}

}  // namespace strandproof::sim
