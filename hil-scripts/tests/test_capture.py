"""`gauge capture` as a technician at the rig meets it: guided, interrupted, resumed, typed by hand, refused."""

import csv
import json
import re
import signal
import subprocess
import time

import pytest
from yard import HOST, SIM, Jack, built

pytestmark = built

PARTS = ["--jack", "4711", "--sensor-a", "5001", "--sensor-b", "5002"]
CELL = ["--cell-serial", "R-17", "--cell-class", "0.5", "--cell-from", "10 kN", "--cell-to", "200 kN",
        "--cell-due", "2099-01-01T00:00:00Z"]  # fmt: skip
POINTS = ["--set-points", "30, 60, 90, 120, 145 kN", "--series", "2", "--exercises", "1", "--ambient-c", "20"]


class Rig(Jack):
    """A jack on its calibration rig, with the reference cell's own line."""

    def __init__(self, folder):
        self.link, self.channel, self.cell = folder / "jack", folder / "jack.operator", folder / "cell"
        self.process = subprocess.Popen([SIM, "serve", "--rig", "--link", self.link, "--cell", self.cell, "--speed",
                                         "30", "--quiet"], stdin=subprocess.DEVNULL)  # fmt: skip
        until = time.monotonic() + 20
        while not (self.link.exists() and self.channel.exists() and self.cell.exists()):
            assert self.process.poll() is None and time.monotonic() < until, "the simulated rig did not start"
            time.sleep(0.02)

    def force_n(self):
        return int(re.search(r"force_n=(-?\d+)", self.pendant("status")).group(1))


@pytest.fixture
def rig(tmp_path):
    served = Rig(tmp_path)
    yield served
    served.process.terminate()
    served.process.wait(10)


class Capture:
    """The command, and a technician who does what it says."""

    def __init__(self, rig, file, *arguments):
        self.rig, self.events = rig, []
        line = [HOST, "--json", "--port", rig.link, "gauge", "capture", "-o", file, *PARTS, *CELL, *arguments]
        self.process = subprocess.Popen([str(part) for part in line], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                                        stderr=subprocess.PIPE, text=True)  # fmt: skip

    def texts(self, kind):
        return [event["text"] for event in self.events if event["event"] == kind]

    def obey(self, enough):
        """Until enough(event) or the command ends. A typed value is read off the simulated cell."""
        for line in self.process.stdout:
            event = json.loads(line)
            self.events.append(event)
            if enough(event):
                return
            if event["event"] != "instruction":
                continue
            if "choose RIG" in event["text"]:
                self.rig.pendant("rig")
            elif event["entries"] > 0:
                self.type(f"{self.rig.force_n() / 1e3:.2f}")
            elif event["move"] != "none":
                self.rig.pendant(f"{event['move']}-to {event['to_n']} N", "wait 200 ms")

    def type(self, text):
        self.process.stdin.write(text + "\n")
        self.process.stdin.flush()

    def end(self):
        self.process.stdout.read()
        code, problem = self.process.wait(30), self.process.stderr.read()
        return code, problem


def rows(file):
    return list(csv.DictReader(file.read_text(encoding="ascii").splitlines()))


def test_interrupted_with_a_torn_line_and_resumed_to_a_table(rig, tmp_path):
    file = tmp_path / "runs.csv"
    first = Capture(rig, file, *POINTS, "--cell-port", rig.cell)
    first.obey(lambda event: event.get("readings") == 4 and event["event"] == "reading")
    first.process.send_signal(signal.SIGINT)
    assert first.end() == (1, "")
    assert [row["direction"] for row in rows(file)] == ["zero", "up", "up", "up"]
    assert first.texts("caution") and "out of that line" in first.texts("caution")[0]
    with file.open("a", encoding="ascii") as torn:
        torn.write("1,up,1200")

    second = Capture(rig, file, *POINTS, "--cell-port", rig.cell)
    second.obey(lambda event: event["event"] == "end")
    assert second.end() == (0, "")
    notes = second.texts("note")
    assert any("torn last line was dropped: 1,up,1200" in note for note in notes), notes
    assert any("4 readings are on file" in note for note in notes), notes
    read = rows(file)
    assert [(r["run"], r["direction"]) for r in read] == (
        [("1", "zero")] + [("1", "up")] * 5 + [("1", "zero")]
        + [("2", "zero")] + [("2", "up")] * 5 + [("2", "down")] * 4 + [("2", "zero")])  # fmt: skip
    for row in read:
        # The jack of trade.md 5.3 in closed form: 4.656 kN/MPa less 0.3 kN of its seals, moving up.
        if row["direction"] == "up":
            law = 0.4656 * float(row["pressure_a_mbar"]) - 300.0
            assert abs(float(row["reference_n"]) - law) < 0.004 * law + 60.0, row

    fitted = subprocess.run([HOST, "gauge", "fit", file, "-o", tmp_path / "table.json"], capture_output=True, text=True,
                            timeout=60)  # fmt: skip
    assert fitted.returncode == 0, fitted.stderr


def test_typed_values_must_agree_in_a_spot_run(rig, tmp_path):
    file = tmp_path / "spot.csv"
    spot = Capture(rig, file, "--spot", "--set-points", "40, 80, 120 kN")
    spot.obey(lambda event: event["event"] == "instruction" and event["entries"] == 2 and "40.00" in event["text"])
    spot.type("40.02")
    spot.type("40.20")
    spot.obey(lambda event: "differ" in event["text"])
    assert not [row for row in rows(file) if row["direction"] == "up"]
    spot.type("40,02")
    spot.obey(lambda event: event["event"] == "note" and "40,02" in event["text"])
    spot.type("40.02")
    spot.type("40.02")
    spot.obey(lambda event: event["event"] == "end")
    assert spot.end() == (0, "")
    assert [row["direction"] for row in rows(file)] == ["zero", "up", "up", "up", "zero"]
    assert float(rows(file)[1]["reference_n"]) == 40020.0


def test_past_the_set_point_is_rejected(rig, tmp_path):
    file = tmp_path / "runs.csv"
    capture = Capture(rig, file, *POINTS, "--cell-port", rig.cell)
    capture.obey(lambda event: event["event"] == "instruction" and event["to_n"] == 30000)
    rig.pendant("up-to 36 kN", "wait 1 s")
    capture.obey(lambda event: event["event"] == "rejected")
    assert "past the band; lower to" in capture.events[-1]["text"]
    capture.obey(lambda event: event["event"] == "reading" and event["set_point_n"] == 30000)
    assert abs(capture.events[-1]["reference_n"] - 30000) < 2175
    capture.process.send_signal(signal.SIGINT)
    assert capture.end()[0] == 1


@pytest.mark.parametrize("change, expected", [
    (("--sensor-a", "5002"), "--sensor-a: 5002 was declared, but the jack says sensor A 5001"),
    (("--jack", "4712"), "--jack: 4712 was declared"),
    (("--cell-due", "2026-01-01T00:00:00Z"), "due on 2026-01-01"),
    (("--cell-to", "146 kN"), "outside the reference cell's range"),
    (("--set-points", "30, 60, 90, 80, 145 kN"), "does not rise"),
    (("--set-points", "30, 60 kN"), "at least 5"),
    (("--cell-class", "1.5"), "none of 00, 0.5, 1, 2"),
    (("--cell-port", "/nowhere/cell"), "/nowhere/cell: is not there"),
])
def test_what_does_not_fit_is_one_line_and_no_file(rig, tmp_path, change, expected):
    file = tmp_path / "runs.csv"
    line = [HOST, "--json", "--port", rig.link, "gauge", "capture", "-o", file, *PARTS, *CELL, *POINTS]
    option, value = change
    if option in line:
        line[line.index(option) + 1] = value
    else:
        line += [option, value]
    refused = subprocess.run(line, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=30)
    assert refused.returncode == 2, refused
    assert expected in refused.stderr and refused.stderr.count("\n") == 1, refused.stderr
    assert not file.exists()
