"""The simulated jack as a program: its lines, its operator channel, its refusals.

Run by CTest with STRANDPROOF_SIM naming the program; by hand: STRANDPROOF_SIM=... /usr/bin/python3 -m pytest
"""

import os
import pathlib
import signal
import socket
import stat
import subprocess
import time

import pytest

SIM = os.environ.get("STRANDPROOF_SIM", "")
pytestmark = pytest.mark.skipif(not SIM, reason="STRANDPROOF_SIM does not name the simulator's program")


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class Jack:
    """A served jack; every command waits for its answer."""

    def __init__(self, folder, *options):
        self.link = folder / "jack"
        self.operator = folder / "jack.operator"
        self.process = subprocess.Popen(
            [SIM, "serve", "--link", str(self.link), "--speed", "200", "--quiet", *options],
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
        until = time.monotonic() + 10
        while not self.operator.exists() or not self.link.exists():
            assert self.process.poll() is None, self.process.stdout.read()
            assert time.monotonic() < until, "the simulated jack did not start"
            time.sleep(0.02)

    def do(self, line, timeout=60):
        with socket.socket(socket.AF_UNIX) as channel:
            channel.settimeout(timeout)
            channel.connect(str(self.operator))
            channel.sendall(line.encode() + b"\n")
            answer = b""
            while not answer.endswith(b"\n"):
                part = channel.recv(4096)
                assert part, f"the jack ended without an answer to {line!r}"
                answer += part
            return answer.decode().strip()

    def stop(self):
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
        self.process.wait(10)


@pytest.fixture
def jack(tmp_path):
    served = Jack(tmp_path)
    yield served
    served.stop()


def test_link_is_a_terminal_and_is_removed(tmp_path):
    served = Jack(tmp_path)
    assert served.link.is_symlink()
    assert stat.S_ISCHR(os.stat(served.link).st_mode)
    assert stat.S_IMODE(os.stat(served.operator).st_mode) == 0o600
    assert served.do("quit") == "done"
    assert served.process.wait(10) == 0
    assert not served.link.is_symlink() and not served.operator.exists()


def test_second_jack_on_the_same_link_is_refused(jack):
    second = subprocess.run([SIM, "serve", "--link", str(jack.link), "--quiet"], capture_output=True, text=True,
                            timeout=10)
    assert second.returncode == 2
    assert second.stderr.count("\n") == 1
    assert "another simulated jack" in second.stderr and "--" in second.stderr
    assert "state=idle" in jack.do("status"), "the first one is not disturbed"


def test_link_never_replaces_a_file(tmp_path):
    place = tmp_path / "jack"
    place.write_text("mine")
    refused = subprocess.run([SIM, "serve", "--link", str(place), "--quiet"], capture_output=True, text=True, timeout=10)
    assert refused.returncode == 2
    assert "is no link" in refused.stderr
    assert place.read_text() == "mine"


def test_tcp_is_on_the_loopback_only(tmp_path):
    port = free_port()
    served = Jack(tmp_path, "--tcp", str(port))
    try:
        with socket.create_connection(("127.0.0.1", port), timeout=5):
            pass
        others = {a[4][0] for a in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)}
        for address in others - {"127.0.0.1"}:
            if not address.startswith("127."):
                with pytest.raises(OSError):
                    socket.create_connection((address, port), timeout=2)
        with open("/proc/net/tcp", encoding="ascii") as table:
            listening = [row.split()[1] for row in table if row.split()[1].endswith(f":{port:04X}")
                         and row.split()[3] == "0A"]
        assert listening == [f"0100007F:{port:04X}"]
    finally:
        served.stop()


def test_set_up_moves_only_while_held(jack):
    def stroke():
        return float(jack.do("status").split("stroke_mm=")[1])
    assert jack.do("set-up").startswith("done")
    before = stroke()
    jack.do("hold enable advance")
    jack.do("wait 5 s")
    jack.do("release enable-2")
    jack.do("wait 1 s")
    after = stroke()
    assert after - before > 3.0, "0.3 L/min on 48 cm2 is 1.04 mm/s"
    jack.do("wait 5 s")
    assert abs(stroke() - after) < 0.2
    jack.do("release all")
    assert "failed" in jack.do("thread") or after < 20.0


def test_faults_and_their_end(jack):
    assert "FAULT" not in jack.do("display")
    assert jack.do("fault emergency-stop at now") == "done"
    jack.do("wait 200 ms")
    jack.do("press confirm")
    assert "state=idle" in jack.do("status")
    assert jack.do("end emergency-stop") == "done"
    answer = jack.do("fault strand-brake at 5 s")
    assert answer.startswith("failed") and 'did you mean "strand-break"' in answer
    answer = jack.do("fault strand-break at 5 L")
    assert answer.startswith("failed") and "write a time" in answer


def test_noise_on_the_line_moves_nothing(jack):
    line = os.open(jack.link, os.O_RDWR | os.O_NOCTTY)
    try:
        os.write(line, bytes(range(256)) * 8)
        time.sleep(0.2)
        status = jack.do("status")
    finally:
        os.close(line)
    assert "state=idle" in status and "stroke_mm=10.0" in status


def test_memory_is_kept_only_on_request(tmp_path):
    flash = tmp_path / "flash"
    served = Jack(tmp_path, "--flash", str(flash))
    served.do("wait 1 s")
    served.stop()
    assert flash.stat().st_size == 1 << 20
    first = flash.read_bytes()
    assert first.strip(b"\xff"), "the boot is counted and recorded"
    served = Jack(tmp_path, "--flash", str(flash))
    served.do("wait 1 s")
    served.stop()
    second = flash.read_bytes()
    assert second != first


@pytest.mark.parametrize("text, expected", [
    ("[strand]\nlenght = \"60 m\"\n", 'did you mean "strand.length"'),
    ("[strand]\nlength = 60\n", "needs its unit"),
    ("[strand]\nlength = \"60 bar\"\n", "wanted is a length"),
    ("[strand]\nlength = \"60,5 m\"\n", "decimal comma"),
    ("\ufeffseed = 1\n", "byte-order mark"),
    ("[[fault]]\nkind = \"strand-brake\"\nat = \"1 s\"\n", 'did you mean "strand-break"'),
])
def test_bad_scenarios_are_one_line_with_place_and_remedy(tmp_path, text, expected):
    file = tmp_path / "bad.toml"
    file.write_text(text, encoding="utf-8")
    trace = tmp_path / "trace.csv"
    run = subprocess.run([SIM, "pull", str(file), "--trace", str(trace)], capture_output=True, text=True, timeout=30)
    assert run.returncode == 2
    assert run.stderr.count("\n") == 1 and run.stdout == ""
    assert f"{file}:" in run.stderr and expected in run.stderr
    assert not trace.exists()


def test_pull_without_arguments_and_its_trace(tmp_path):
    trace = tmp_path / "trace.csv"
    run = subprocess.run([SIM, "pull", "--trace", str(trace)], capture_output=True, text=True, timeout=120)
    assert run.returncode == 0, run.stdout + run.stderr
    assert "no limit breached in this scenario; plant values assumed" in run.stdout
    assert "safe" not in run.stdout.lower()
    rows = trace.read_text(encoding="ascii").splitlines()
    header = rows[0].split(",")
    assert header[0] == "time_s"
    times = [float(row.split(",", 1)[0]) for row in rows[1:]]
    assert all(b > a for a, b in zip(times, times[1:]))
    assert {len(row.split(",")) for row in rows} == {len(header)}


def test_wrong_use_is_exit_code_two(tmp_path):
    for arguments in (["pul"], ["pull", "--sed", "1"], ["pull", "--set", "strand.length=60"],
                      ["pull", str(tmp_path / "absent.toml")], ["pull", "--trace", "/no/such/folder/trace.csv"],
                      ["operate", "--operator", str(pathlib.Path(tmp_path) / "nobody"), "status"]):
        run = subprocess.run([SIM, *arguments], capture_output=True, text=True, timeout=60)
        assert run.returncode == 2, arguments
        assert run.stderr.strip(), arguments
