"""Many pulls as a person runs them: the same bytes however they are split, stopped or played again."""

import json
import os
import re
import signal
import subprocess

import pytest
from yard import BUILD, ROOT, SIM, built

pytestmark = built

CAMPAIGN = ROOT / "sim/campaigns/healthy-and-faulty.toml"
PULLS = ["--pulls", "11"]


def sim(*arguments):
    done = subprocess.run([SIM, *map(str, arguments)], capture_output=True, text=True, timeout=300, cwd=ROOT)
    return done.returncode, done.stdout, done.stderr


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    folder = tmp_path_factory.mktemp("whole")
    code, out, err = sim("campaign", CAMPAIGN, *PULLS, "-o", folder, "--threads", "1")
    assert code == 0 and "SIMULATED" in out and "11 of 11 pulls" in err, (out, err)
    return folder


def files(folder):
    return {name: (folder / name).read_bytes() for name in ("results.csv", "report.html", "report.json")}


def test_two_threads_and_three_shards_give_the_same_bytes(whole, tmp_path):
    assert sim("campaign", CAMPAIGN, *PULLS, "-o", tmp_path / "two", "--threads", "2")[0] == 0
    assert files(tmp_path / "two") == files(whole)
    for shard in ("2/3", "1/3", "3/3"):
        assert sim("campaign", CAMPAIGN, *PULLS, "-o", tmp_path / "parts", "--shard", shard)[0] == 0
    assert sim("merge", CAMPAIGN, tmp_path / "parts", *PULLS)[0] == 0
    assert files(tmp_path / "parts") == files(whole)


RANKS = BUILD / "sim/main/strandproof-sim-mpi"
with_ranks = pytest.mark.skipif(not RANKS.exists(), reason=f"{RANKS}: not built (STRANDPROOF_MPI)")


def ranks(count, *arguments):
    """As root and past the cores too: Open MPI asks for both by name."""
    allowed = {"OMPI_ALLOW_RUN_AS_ROOT": "1", "OMPI_ALLOW_RUN_AS_ROOT_CONFIRM": "1"}
    line = ["mpirun", "--oversubscribe", "-n", count, RANKS, *arguments]
    done = subprocess.run([str(part) for part in line], capture_output=True, text=True, timeout=300, cwd=ROOT,
                          env={**os.environ, **allowed})  # fmt: skip
    return done.returncode, done.stdout, done.stderr


@with_ranks
def test_two_ranks_give_the_same_bytes_as_one_run(whole, tmp_path):
    code, out, err = ranks(2, CAMPAIGN, *PULLS, "-o", tmp_path)
    assert code == 0 and out.count("SIMULATED") == 1, (out, err)
    assert files(tmp_path) == files(whole)
    assert (tmp_path / "results-2-of-2.csv").read_text(encoding="ascii").count("\n") == 2 + 5


@with_ranks
def test_what_a_rank_can_not_do_is_said_and_nothing_is_merged(tmp_path):
    (tmp_path / "results-2-of-2.csv").mkdir()
    code, out, err = ranks(2, CAMPAIGN, *PULLS, "-o", tmp_path)
    assert code == 2 and "rank 1: " in err and "results-2-of-2.csv" in err, (out, err)
    assert "rank 0: " not in err and not (tmp_path / "results.csv").exists()


def pulls_of(folder):
    return (folder / "results.csv").read_text(encoding="ascii").splitlines()[2:]


def test_interrupted_it_goes_on(whole, tmp_path):
    many = [SIM, "campaign", CAMPAIGN, "--pulls", "4000", "-o", tmp_path, "--threads", "1"]  # more than it gets to
    before = 0
    for _ in range(2):
        running = subprocess.Popen(many, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        done, told = 0, ""
        while done < before + 2:  # it tells how far it is twice a second
            told += running.stderr.read(1)
            assert running.poll() is None, told
            done = max([0, *map(int, re.findall(r"(\d+) of 4000", told))])
        running.send_signal(signal.SIGINT)
        out, err = running.communicate(timeout=60)
        assert running.returncode == 1 and "the same command goes on" in err, (out, err)
        lines = pulls_of(tmp_path)
        assert len(lines) > before and [int(line.split(",")[0]) for line in lines] == list(range(len(lines)))
        common = min(len(lines), len(pulls_of(whole)))
        assert lines[:common] == pulls_of(whole)[:common], "pull n is the same whatever the size of its campaign"
        before = len(lines)


def test_the_worst_is_played_again_as_it_was(whole):
    worst = json.loads((whole / "report.json").read_text(encoding="utf-8"))["worst"][0]
    program, *arguments = worst["replay"].split()
    assert program == "strandproof-sim"
    code, out, err = sim(*arguments, "--json")
    again = json.loads(out)
    assert again["verdict_text"] == worst["verdict"] and again["cause_text"] == worst["cause"], (worst, again)
    assert code == (0 if worst["end"] == "ended within limits" else 1)


def test_shrink_leaves_what_matters(whole):
    tripped = next(line.split(",") for line in pulls_of(whole) if line.split(",")[2] != "0")
    code, out, err = sim("shrink", CAMPAIGN, *PULLS, tripped[0])
    assert code == 0 and f"\n  fault {tripped[4]} at " in out, (out, err)
    command = next(line for line in out.splitlines() if line.startswith("strandproof-sim replay"))
    assert "--drop" in command


def test_wrong_use_is_one_line(whole, tmp_path):
    for arguments, said in [
        (["campaign", tmp_path / "none.toml", "-o", tmp_path], "can not be read; name a campaign file"),
        (["campaign", CAMPAIGN, *PULLS, "-o", whole, "--seed", "2"], "holds results of another campaign"),
        (["campaign", CAMPAIGN, *PULLS, "-o", tmp_path, "--shard", "4/3"], "is no part such as 2/4"),
        (["campaign", CAMPAIGN, *PULLS, "-o", tmp_path, "--sweep", "valves.lag=1 ms to 2 ms in 12"], "raise pulls"),
        (["replay", CAMPAIGN, *PULLS, "11"], "the first is 0"),
        (["replay", CAMPAIGN, *PULLS, "1", "--drop", "fault flood"], "has no part"),
        (["merge", CAMPAIGN, tmp_path, *PULLS], "holds no results-1-of-N.csv"),
    ]:
        code, out, err = sim(*arguments)
        assert code == 2 and err.startswith("strandproof-sim: ") and err.count("\n") == 1 and said in err, (arguments, err)


def test_why_says_of_each_row_what_it_saw(whole):
    tripped = next(line.split(",") for line in pulls_of(whole) if line.split(",")[2] != "0")
    code, out, err = sim("why", CAMPAIGN, *PULLS, tripped[0])
    assert code == 1 and out.count("acted: ") == 1, (out, err)
    code, text, _ = sim("why", CAMPAIGN, *PULLS, tripped[0], "--json")
    rows = json.loads(text)
    assert code == 1 and len(rows) >= 19 and sum(row["acted"] is not None for row in rows) == 1
    code, out, err = sim("why", CAMPAIGN, *PULLS, "99999")
    assert code == 2 and "is none of this campaign's" in err
