// strandproof-sim-mpi: a campaign on the ranks of an MPI job, for who has outgrown one machine. Each rank is
// a shard; the folder is one that all of them reach. The first rank joins the shards: the same bytes as of
// one run.
#include <CLI/CLI.hpp>
#include <boost/mpi.hpp>
#include <cstdio>
#include <exception>
#include <functional>

#include "sim/main/campaign_options.hpp"

namespace strandproof::sim {
namespace {

constexpr int wrong_use = 2;

int guarded(int rank, const std::function<int()>& work) {
  try {
    return work();
  } catch (const std::exception& error) {
    std::fprintf(stderr, "strandproof-sim-mpi: rank %d: %s\n", rank, error.what());
    return wrong_use;
  }
}

// Exit code of the whole job: the worst of any rank.
int run(const boost::mpi::communicator& world, const CampaignChoice& choice, CampaignRun part) {
  part.shard = std::to_string(world.rank() + 1) + "/" + std::to_string(world.size());
  part.quiet = world.rank() != 0;
  part.joined = true;
  const int mine = guarded(world.rank(), [&] { return campaign(choice, part); });
  int worst = boost::mpi::all_reduce(world, mine, boost::mpi::maximum<int>());
  if (world.rank() == 0 && worst == 0) {
    worst = guarded(0, [&] { return merge(choice, part.folder, part.json); });
  }
  boost::mpi::broadcast(world, worst, 0);
  return worst;
}

}  // namespace
}  // namespace strandproof::sim

int main(int argc, char** argv) {
  const boost::mpi::environment environment(argc, argv);
  const boost::mpi::communicator world;
  CLI::App app{
      "A campaign of simulated pulls on the ranks of an MPI job, one shard each: mpirun -n 4 "
      "strandproof-sim-mpi FILE -o FOLDER. The folder is shared by all ranks. Stopped, the same command with "
      "as many ranks goes on."};
  strandproof::sim::CampaignChoice choice;
  strandproof::sim::CampaignRun part;
  part.threads = 1;
  strandproof::sim::add_choice(app, choice);
  strandproof::sim::add_run(app, part);
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    if (world.rank() != 0) {
      return error.get_exit_code() == 0 ? 0 : strandproof::sim::wrong_use;
    }
    return app.exit(error) == 0 ? 0 : strandproof::sim::wrong_use;
  }
  return strandproof::sim::run(world, choice, part);
}
