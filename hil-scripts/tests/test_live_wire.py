"""The Python end of the wire against the firmware in a served jack: what SPEC.md promises to whoever writes an end.

STRANDPROOF_SIM names the simulator's program; without it, that of STRANDPROOF_BUILD or build/release is taken.
"""

import os
import pathlib
import select
import socket
import subprocess
import sys
import time
import tty

import pytest

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "hil-scripts"))

from strandproof_wire import chain, messages, session  # noqa: E402

BUILD = pathlib.Path(os.environ.get("STRANDPROOF_BUILD", ROOT / "build" / "release"))
SIM = pathlib.Path(os.environ.get("STRANDPROOF_SIM", BUILD / "sim/main/strandproof-sim"))
pytestmark = pytest.mark.skipif(not SIM.exists(), reason=f"{SIM} is not built")

HOST_ID, KEY = 4242, bytes(range(32))
TAG_WRONG, BLOCKED, COUNTER_OLD, TOO_LATE, NOT_PAIRED, OTHER_SESSION = 41, 44, 42, 43, 40, 49
KEY_CLOSED, NO_TABLE, NO_SUCH_SLOT = 61, 1, 69


class Line:
    """The pseudo-terminal as a stream."""

    def __init__(self, path):
        self.file = os.open(path, os.O_RDWR | os.O_NOCTTY)
        tty.setraw(self.file)

    def read(self, n):
        ready, _, _ = select.select([self.file], [], [], 0.02)
        return os.read(self.file, n) if ready else b""

    def write(self, data):
        os.write(self.file, data)


@pytest.fixture
def jack(tmp_path):
    """(line, pendant): a served jack at twice the speed, and its operator channel."""
    link, channel = tmp_path / "jack", tmp_path / "jack.operator"
    process = subprocess.Popen([SIM, "serve", "--link", link, "--speed", "2", "--quiet"],
                               stdin=subprocess.DEVNULL)  # fmt: skip
    until = time.monotonic() + 10
    while not (link.exists() and channel.exists()):
        assert process.poll() is None and time.monotonic() < until, "the simulated jack did not start"
        time.sleep(0.02)

    def pendant(command):
        with socket.socket(socket.AF_UNIX) as s:
            s.settimeout(60)
            s.connect(str(channel))
            s.sendall(command.encode() + b"\n")
            answer = s.makefile().readline().strip()
            assert answer.startswith("done"), f"{command}: {answer}"

    yield Line(link), pendant
    process.terminate()
    process.wait(10)


def paired(jack):
    line, pendant = jack
    host = session.Host(line, HOST_ID, KEY)
    host.identify()
    pendant("pair")
    request = {"host_id": HOST_ID, "host_name": "script", "key": KEY}
    _, reply, _ = host.ask("PairRequest", request, ("PairReply",))
    assert reply.get("waiting"), reply
    digits = session.pairing_check(KEY, host.identity["jack_serial"], host.identity["nonce"])
    assert reply["check"] == digits
    pendant("press confirm")
    _, reply, _ = host.ask("PairRequest", request, ("PairReply",))
    assert reply.get("code", 0) == 0 and not reply.get("waiting"), reply
    return host


def test_identify_says_simulated(jack):
    host = session.Host(jack[0], HOST_ID, KEY)
    identity = host.identify()
    assert identity["protocol_major"] == 1
    assert identity["origin"] == 1
    assert len(identity["nonce"]) == 16
    assert not identity.get("paired", False)
    assert host.change("ClockSet", {"utc_s": 1800000000})["code"] == NOT_PAIRED


def test_paired_host_sets_the_clock_and_a_repeat_is_only_answered(jack):
    host = paired(jack)
    sealed = messages.encode("Sealed", host.seal("ClockSet", {"utc_s": 1800000000}))
    first = host.ask("Sealed", {}, ("Reply",), sealed)[1]
    again = host.ask("Sealed", {}, ("Reply",), sealed)[1]
    assert first == again == {"counter": host.counter}
    assert host.change("RecordRelease", {"up_to": 1, "copy": 2**64 - 5, "name": "script"}).get("code", 0) == 0
    assert host.ask("Sealed", {}, ("Reply",), sealed)[1]["code"] == COUNTER_OLD
    status = host.ask("StatusGet", {}, ("Status",))[1]
    assert status["utc_s"] >= 1800000000 and status["clock_quality"] == 1
    assert status["copies_needed"] == 2 and status["copies"] == [{"id": 2**64 - 5, "name": "script", "up_to": 1}]


def test_forged_late_and_foreign_messages_are_refused(jack):
    host = paired(jack)
    late = messages.encode("Sealed", host.seal("ClockSet", {"utc_s": 1800000000}, valid_ms=-host.identity["now_ms"]))
    assert host.ask("Sealed", {}, ("Reply",), late)[1]["code"] == TOO_LATE
    good_session, host.session = host.session, host.session + 1
    host.send("StatusGet", {})
    answers = [message for name, message, _ in host.receive(0.4) if name == "Reply"]
    assert answers and answers[0]["code"] == OTHER_SESSION
    host.session = good_session
    host.key = bytes(32)
    for _ in range(3):
        assert host.change("ClockSet", {"utc_s": 1})["code"] == TAG_WRONG
    host.key = KEY
    assert host.change("ClockSet", {"utc_s": 1800000000})["code"] == BLOCKED
    assert host.ask("StatusGet", {}, ("Status",))[1]["link_blocked_ms"] > 500000


def whole_log(host):
    return list(host.fetch())


def test_the_chain_of_the_log_holds_for_another_end(jack):
    """Boot, pairing, both signed; then a record that only the paired host can check the tag of."""
    host = paired(jack)
    until = time.monotonic() + 20
    seen = {"checkpoints": 0}
    while seen["checkpoints"] < 1 or not seen["next_host"]:
        assert time.monotonic() < until, "no checkpoint after a pairing"
        time.sleep(0.2)
        log = whole_log(host)
        seen = chain.follow(host.identity["jack_serial"], log, KEY, HOST_ID)
        last = messages.decode("Record", log[-1]["body"]).get("checkpoint", {})
        seen["next_host"] = last.get("next_host", 0) == HOST_ID
    assert host.change("ClockSet", {"utc_s": 1800000000}).get("code", 0) == 0
    time.sleep(0.2)
    log = whole_log(host)
    assert chain.follow(host.identity["jack_serial"], log, KEY, HOST_ID)["tags"] >= 1
    log[1]["body"] = log[1]["body"][:3] + bytes([log[1]["body"][3] ^ 4]) + log[1]["body"][4:]
    with pytest.raises(chain.Refused, match=f"record {log[1]['sequence']}: changed"):
        chain.follow(host.identity["jack_serial"], log, KEY, HOST_ID)


def test_the_log_comes_whole_and_says_from_where(jack):
    host = paired(jack)
    wanted, events = 1, []
    for message in host.fetch():
        assert message["from"] == wanted <= message["sequence"]
        wanted = message["sequence"] + 1
        record = messages.decode("Record", message["body"])
        assert len(record["seal"]) == 56
        events.append(record["event"]["code"] if "event" in record else "checkpoint")
    assert 10 in events, f"this host's pairing is not in the log: {events}"
    end = host.ask("LogGet", {"from": 2**40, "count": 1, "run": 200}, ("LogRecord",))[1]  # checkpoints come by themselves
    assert end == {"from": 2**40, "run": 200}


class Spoilt:
    """A line that spoils each ninth read."""

    def __init__(self, line):
        self.line, self.reads = line, 0

    def read(self, n):
        data = self.line.read(n)
        self.reads += len(data) > 40
        return data[:-20] + bytes([data[-20] ^ 1]) + data[-19:] if len(data) > 40 and self.reads % 9 == 0 else data

    def write(self, data):
        self.line.write(data)


def test_a_spoilt_line_loses_and_doubles_no_record(jack):
    host = paired(jack)
    for second in range(150):
        assert host.change("ClockSet", {"utc_s": 1800000000 + second}).get("code", 0) == 0
    good = [r["sequence"] for r in host.fetch()]
    host.stream = Spoilt(host.stream)
    again = [r["sequence"] for r in host.fetch() if r["sequence"] <= good[-1]]
    assert host.stream.reads >= 9 and again == good


def test_a_table_key_is_enrolled_with_the_person_at_the_pendant(jack):
    _, pendant = jack
    host = paired(jack)
    key = bytes(range(101, 133))

    def ask():
        return host.ask("TableKeyRequest", {"name": "lab 1", "key": key}, ("TableKeyReply",))[1]

    assert ask()["code"] == KEY_CLOSED
    pendant("enrol-table-key")
    reply = ask()
    assert reply["waiting"] and reply["fingerprint"] == session.fingerprint(key)
    pendant("press confirm")
    assert ask() == {"fingerprint": session.fingerprint(key)}  # code 0, not waiting
    tables = host.ask("TablesGet", {}, ("Tables",))[1]
    assert tables["keys"] == [{"name": "lab 1", "fingerprint": session.fingerprint(key)}]
    assert tables["refusal"] == NO_TABLE
    assert host.ask("TableRead", {"slot": 1}, ("Reply", "TableBytes"))[1]["code"] == NO_SUCH_SLOT
