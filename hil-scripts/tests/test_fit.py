"""A jack of one's own: its bench trace is recorded, fitted, written as a jack file and used in a scenario."""

import json
import subprocess

import pytest
from yard import SIM, built

pytestmark = built

JACK = """
oil.air = "1.4 %"
valves.delay = "27 ms"
pump.fast_flow = "1.8 L/min"
[rig]
stiffness = "2400 N/mm"
points = 5
runs = 1
"""


def sim(folder, *arguments):
    done = subprocess.run([SIM, *map(str, arguments)], capture_output=True, text=True, timeout=300, cwd=folder)
    return done.returncode, done.stdout, done.stderr


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    folder = tmp_path_factory.mktemp("bench")
    (folder / "real.toml").write_text(JACK, encoding="ascii")
    assert sim(folder, "rig", "real.toml", "-o", "runs.csv", "--trace", "trace.csv")[0] == 0
    return folder


def test_a_trace_becomes_a_jack_file_that_a_scenario_names(bench):
    code, out, err = sim(bench, "fit", "trace.csv", "--seconds", "45", "-o", "jack.toml")
    assert code == 0 and "cannot tell" not in out and "written: jack.toml" in err, (out, err)
    text = (bench / "jack.toml").read_text(encoding="ascii")
    assert text.splitlines()[1] == 'origin = "simulated"', "invented data is never called measured on a jack"
    measured = text.split("[assumed]")[0]
    assert 'valves.delay = "27 ms"  # +- ' in measured and 'oil.air = "1.' in measured
    (bench / "yard.toml").write_text('jack_file = "jack.toml"\n', encoding="ascii")
    code, out, _ = sim(bench, "pull", "yard.toml")
    assert code == 0 and "jack.toml: 6 values fitted to a simulated jack, " in out
    code, out, _ = sim(bench, "jack", "yard.toml")
    assert code == 0 and out.split("[measured]")[1].split("[assumed]")[0].count("=") == 6


def test_the_same_as_json(bench):
    code, out, _ = sim(bench, "fit", "trace.csv", "--seconds", "45", "--json")
    found = json.loads(out)
    assert code == 0 and found["explained"] and len(found["estimates"]) == 6
    air = next(one for one in found["estimates"] if one["key"] == "oil.air")
    assert abs(air["value"] - 0.014) < 4 * air["sd"] < 0.001


def test_what_can_not_be_told_or_explained_writes_no_value(bench):
    code, out, err = sim(bench, "fit", "trace.csv", "--seconds", "3", "-o", "short.toml")
    assert code == 1 and "cannot tell: " in out, (out, err)
    assert "pump.slow_flow" not in (bench / "short.toml").read_text().split("[assumed]")[0]
    code, out, err = sim(bench, "fit", "trace.csv", "--seconds", "45", "--set", "jack.area=40 cm2", "-o", "wrong.toml")
    assert code == 1 and "does not explain this trace" in out and not (bench / "wrong.toml").exists()


def test_wrong_use_gets_one_line(bench):
    code, out, err = sim(bench, "fit", "runs.csv")
    assert code == 2 and out == "" and err.count("\n") == 1 and "has no column time_s" in err
