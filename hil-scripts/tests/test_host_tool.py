"""The host tool as a person meets it: bad input is one line and changes nothing; a pulled cable ends no command."""

import contextlib
import fcntl
import os
import resource
import select
import socket
import sqlite3
import subprocess
import sys
import threading
import time
import tty

import pytest
from yard import ROOT, SIM, Jack, Office, built

sys.path.insert(0, str(ROOT / "hil-scripts"))

from strandproof_wire import frame, messages  # noqa: E402

pytestmark = built


def one_line(answer, *parts, code=2):
    """A problem is one line on standard error that holds each part."""
    assert answer[0] == code, answer
    assert answer[2].startswith("strandproof: ") and answer[2].count("\n") == 1, answer[2]
    for part in parts:
        assert part in answer[2], answer[2]


@pytest.fixture
def office(tmp_path):
    return Office(tmp_path)


@pytest.fixture(scope="module")
def runs(tmp_path_factory):
    file = tmp_path_factory.mktemp("rig") / "runs.csv"
    subprocess.run([SIM, "rig", "-o", file], check=True, capture_output=True, timeout=120)
    return file.read_text(encoding="utf-8")


@pytest.fixture
def jack(tmp_path):
    served = Jack(tmp_path)
    yield served
    served.process.terminate()
    served.process.wait(10)


def with_field(text, row, column, value):
    lines = text.splitlines()
    fields = lines[row - 1].split(",")
    fields[column] = value
    return "\n".join([*lines[: row - 1], ",".join(fields), *lines[row:]]) + "\n"


def without_column(text, name):
    rows = [line.split(",") for line in text.splitlines()]
    at = rows[0].index(name)
    return "".join(",".join(row[:at] + row[at + 1 :]) + "\n" for row in rows)


BAD_RUNS = [
    (lambda t: without_column(t, "reference_n"), "runs.csv:1:", "'reference_n' is missing"),
    (lambda t: with_field(t, 5, 3, "abc"), "runs.csv:5:12:", "is not a number"),
    (lambda t: with_field(t, 5, 3, "12,5"), "runs.csv:5:", "decimals take a '.'"),
    (lambda t: t.replace(",", ";"), "runs.csv:1:", "separated by ';'"),
    (lambda t: "\ufeff" + t, "runs.csv:1:1:", "byte-order mark"),
    (lambda t: with_field(t, 6, 3, "10"), "runs.csv:6:", "does not rise after line 5"),
    (lambda t: with_field(t, 5, 3, "nan"), "runs.csv:5:12:", "finite number"),
]


@pytest.mark.parametrize("spoil, where, what", BAD_RUNS)
def test_bad_calibration_runs_make_no_table(office, runs, spoil, where, what):
    file, table = office.folder / "runs.csv", office.folder / "table.json"
    file.write_text(spoil(runs), encoding="utf-8")
    one_line(office.run("gauge", "fit", "runs.csv", "-o", table), where, what)
    assert not table.exists()


def test_an_output_replaces_nothing_but_its_own_kind(office, runs):
    file, table = office.folder / "runs.csv", office.folder / "table.json"
    file.write_text(runs, encoding="utf-8")
    for taken in ("runs.csv", "/dev/null", "."):
        one_line(office.run("gauge", "fit", "runs.csv", "-o", taken), taken, "is not a gauge table; name another")
    assert file.read_text(encoding="utf-8") == runs
    for _ in range(2):  # its own earlier output is replaced
        assert office.run("gauge", "fit", "runs.csv", "-o", table)[0] == 0


def test_decode_counts_what_the_capture_cut_off(office):
    golden = (ROOT / "proto" / "golden" / "frames.txt").read_text(encoding="utf-8").splitlines()
    whole = [line.removeprefix("frame ") for line in golden if line.startswith("frame ")]
    file = office.folder / "capture"
    file.write_text("".join(whole), encoding="ascii")
    code, out, _ = office.run("decode", "capture")
    assert code == 0 and f"{len(whole)} frames, 0 bad, 0 bytes dropped" in out and "unknown" not in out, out
    file.write_text("".join(whole)[:-10], encoding="ascii")
    code, out, _ = office.run("decode", "capture")
    assert code == 1 and f"{len(whole) - 1} frames, 1 bad" in out, out
    file.write_text("zz", encoding="ascii")
    assert office.run("decode", "capture")[:2] == (1, "byte      3  BAD FRAME: cut, damaged or not canonical\n"
                                                   "0 frames, 1 bad, 2 bytes dropped\n")  # fmt: skip


BAD_PLANS = [
    (b'length = "60 m"', b"length = 60", b":6:", b"number and unit"),
    (b'"128 kN"', b'"12,8 kN"', b":24:", b"write a point"),
    (b'"60 m"', b'"60 kN"', b":6:", b"use one of mm, m, in, ft"),
    (b"slack_max", b"slak_max", b":", b"slack_max"),
    (b"[bed]", b"[\x00bed]", b":3", b"not TOML"),
]


@pytest.mark.parametrize("good, bad, where, what", BAD_PLANS)
def test_bad_plans_are_one_line(office, good, bad, where, what):
    plan = office.folder / "plan.toml"
    text = (ROOT / "host-tool/bed/example-plan.toml").read_bytes()
    assert good in text
    plan.write_bytes(text.replace(good, bad, 1))
    one_line(office.run("bed", "send", "plan.toml", "--dry"), "plan.toml" + where.decode(), what.decode())


def test_ports_absent_busy_silent_and_none_at_all(office):
    one_line(office.run("identify", port="/dev/ttyACM987"), "/dev/ttyACM987: is not there; plug the cable in")
    one_line(office.run("identify", port="/dev/null"), "is no serial port")
    one_line(office.run("identify", port="tcp://127.0.0.1:1"), "nobody answers there")
    master, slave = os.openpty()
    tty.setraw(slave)
    name = os.ttyname(slave)
    one_line(office.run("identify", port=name), name, "silent for", "switched on")
    fcntl.flock(slave, fcntl.LOCK_EX)
    one_line(office.run("identify", port=name), name, "in use by another program")
    assert not office.archive.exists(), "asking who is there leaves nothing behind"
    os.close(slave)
    os.close(master)


def test_a_table_for_another_serial_is_not_loaded(office, runs, jack):
    jack.pair(office)
    jack.enrol(office)
    (office.folder / "other.csv").write_text(runs.replace(",4711,", ",4712,"), encoding="utf-8")
    assert office.run("gauge", "fit", "other.csv", "-o", "other.json")[0] == 0
    one_line(office.run("gauge", "load", "other.json", port=jack.link), "other.json", "made for jack 4712",
             "calibrate this jack", code=1)  # fmt: skip
    assert "gauge table none" in office.run("identify", port=jack.link)[1]


def test_an_archive_that_is_locked_full_or_newer_keeps_what_it_has(office, jack):
    def held():
        with contextlib.closing(sqlite3.connect(office.archive)) as kept:
            return sum(len(row) for row in kept.iterdump())

    assert office.run("log", "fetch", port=jack.link)[0] == 0
    jack.pair(office)
    before = held()
    other = sqlite3.connect(office.archive, isolation_level=None)
    other.execute("begin exclusive")
    one_line(office.run("log", "fetch", port=jack.link), "archive.sqlite", "in use by another program", "nothing")
    other.execute("rollback")
    other.close()
    assert held() == before

    def one_page():  # a limit of the system stands for a disk without room; the program must live to say so
        resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))

    one_line(office.run("log", "fetch", port=jack.link, preexec_fn=one_page), "archive.sqlite", "the disk")
    assert held() == before
    with sqlite3.connect(office.archive) as kept:
        kept.execute("update archive_schema set version = version + 1")
    kept.close()  # what the limit has cut off is written anew first, which needs the archive alone
    newer = held()
    one_line(office.run("log", "fetch", port=jack.link), "archive.sqlite", "newer strandproof")
    assert held() == newer


class Cable:
    """Carries bytes between a served jack and a host, until it is cut; half a second later it is put back."""

    def __init__(self, jack, place, over):
        self.place, self.over = place, over
        self.jack = os.open(jack.link, os.O_RDWR | os.O_NOCTTY)
        tty.setraw(self.jack)
        self.cuts, self.to_host, self.to_jack = 0, bytearray(), bytearray()
        self.cut_when = lambda: False
        self.listener, self.ends = None, []
        self.plug_in()
        self.stopped = threading.Event()
        self.thread = threading.Thread(target=self.carry)
        self.thread.start()

    @property
    def port(self):
        return f"tcp://127.0.0.1:{self.number}" if self.over == "tcp" else str(self.place)

    def plug_in(self):
        if self.over == "tcp":
            self.listener = socket.create_server(("127.0.0.1", getattr(self, "number", 0)), backlog=1)
            self.number = self.listener.getsockname()[1]
            self.host = None
        else:
            self.host, slave = os.openpty()
            tty.setraw(slave)
            self.place.unlink(missing_ok=True)
            self.place.symlink_to(os.ttyname(slave))
            os.close(slave)

    def unplug(self):
        self.place.unlink(missing_ok=True)  # first: another program may be given the number of the terminal
        for end in (self.host, self.listener):
            if end is not None:
                end.close() if isinstance(end, socket.socket) else os.close(end)
        self.host = self.listener = None

    def from_host(self):
        if self.listener and select.select([self.listener], [], [], 0)[0]:
            self.host = self.listener.accept()[0]
        if self.host is None or not select.select([self.host], [], [], 0)[0]:
            return b""
        try:
            data = self.host.recv(64) if self.over == "tcp" else os.read(self.host, 64)
        except OSError:  # a pseudo-terminal that nobody holds open
            return b""
        if not data:
            self.host = None
        return data

    def carry(self):
        while not self.stopped.wait(0.002):
            if data := self.from_host():
                self.to_jack += data
                os.write(self.jack, data)
            if select.select([self.jack], [], [], 0)[0] and (data := os.read(self.jack, 64)) and self.host is not None:
                self.to_host += data
                self.host.sendall(data) if self.over == "tcp" else os.write(self.host, data)
            if self.cuts == 0 and self.cut_when():
                self.cuts += 1
                self.unplug()
                time.sleep(0.5)
                self.plug_in()

    def close(self):
        self.stopped.set()
        self.thread.join()
        self.unplug()
        os.close(self.jack)


@pytest.fixture(params=["pty", "tcp"])
def cable(request, tmp_path, jack):
    laid = Cable(jack, tmp_path / "cable", request.param)
    yield laid
    laid.close()


def cable_was_pulled(answer, cable):
    assert answer[0] == 0, answer
    assert cable.cuts == 1
    assert "line lost" in answer[2] and "line is back" in answer[2], answer[2]


def frames(carried):
    return frame.Decoder().feed(bytes(carried))


def records_of(archive):
    with sqlite3.connect(archive) as kept:
        return kept.execute("select sequence, body_hex from record order by sequence").fetchall()


def test_a_cable_pulled_in_mid_fetch(office, jack, cable):
    jack.pair(office, cable.port)
    for _ in range(8):  # each makes a record
        answer = office.run("bed", "enter", "--inspected", "1", port=cable.port)
        assert answer[0] == 0, answer
    cable.to_host.clear()
    cable.cut_when = lambda: len(frames(cable.to_host)) >= 8
    cable_was_pulled(office.run("log", "fetch", port=cable.port), cable)
    records = records_of(office.archive)
    assert len(records) > 8 and [row[0] for row in records] == list(range(1, len(records) + 1))
    (office.folder / "other").mkdir()
    other = Office(office.folder / "other")
    assert other.run("log", "fetch", port=cable.port)[0] == 0
    assert records_of(other.archive)[: len(records)] == records, "what was fetched in two parts is what is there"


def test_a_cable_pulled_in_mid_table_load(office, runs, jack, cable):
    def chunks():  # SPEC.md: frame type 5 is Sealed, kind 34 in it TableChunk
        sealed = [messages.decode("Sealed", f.payload) for f in frames(cable.to_jack) if f.type == 5]
        return [message["body"] for message in sealed if message["kind"] == 34]

    jack.pair(office, cable.port)
    jack.enrol(office, cable.port)
    (office.folder / "runs.csv").write_text(runs, encoding="utf-8")
    assert office.run("gauge", "fit", "runs.csv", "-o", "table.json")[0] == 0
    cable.cut_when = lambda: len(chunks()) == 1
    cable_was_pulled(office.run("gauge", "load", "table.json", port=cable.port), cable)
    assert len(set(chunks())) >= 2, "the cable was pulled before the whole table was over"
    code, out, _ = office.run("gauge", "show", port=cable.port)  # every bar is named, not the table's alone
    assert code == 1 and "the jack refuses to arm: CLOCK NOT KNOWN" in out, out
    assert office.run("clock", "set", port=cable.port)[0] == 0
    assert office.run("gauge", "show", "--file", "table.json", port=cable.port)[0] == 0
