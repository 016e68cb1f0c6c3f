"""The Python end of the wire: against published values, against proto/golden, and against the C++ end."""

import json
import os
import pathlib
import random
import re
import subprocess
import sys

import pytest

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "hil-scripts"))

from strandproof_wire import checks, frame, golden, lockstep, messages, session  # noqa: E402

GOLDEN = ROOT / "proto" / "golden"


def blocks(name):
    found = golden.read(GOLDEN / name)
    assert found, f"{name} holds nothing"
    return found


def raw(text):
    return b"" if text == "-" else bytes.fromhex(text)


# ---- published values


def test_crc32c_of_rfc_3720_b4():
    assert checks.crc32c(b"123456789") == 0xE3069283  # check value of the algorithm, from memory
    assert checks.crc32c(bytes(32)) == 0x8A9136AA
    assert checks.crc32c(b"\xff" * 32) == 0x62A8AB43
    assert checks.crc32c(bytes(range(32))) == 0x46DD794E
    assert checks.crc32c(bytes(range(31, -1, -1))) == 0x113FDB5C


def test_crc16_xmodem():
    assert checks.crc16(b"123456789") == 0x31C3  # check value of the algorithm, from memory


def test_cobs_examples():
    """The examples usually published with Cheshire and Baker, 1999, without the closing zero."""
    low, up = bytes(range(1, 255)), bytes(range(1, 256))
    for plain, encoded in [
        (b"", b"\x01"), (b"\0", b"\x01\x01"), (b"\0\0", b"\x01\x01\x01"), (b"\0\x11\0", b"\x01\x02\x11\x01"),
        (b"\x11\x22\0\x33", b"\x03\x11\x22\x02\x33"), (b"\x11\0\0\0", b"\x02\x11\x01\x01\x01"),
        (low, b"\xff" + low), (b"\0" + low, b"\x01\xff" + low), (up, b"\xff" + low + b"\x02\xff"),
        (up[1:] + b"\0", b"\xff" + up[1:] + b"\x01\x01"), (up[2:] + b"\0\x01", b"\xfe" + up[2:] + b"\x02\x01"),
    ]:  # fmt: skip
        assert frame.cobs_encode(plain) == encoded
        assert frame.cobs_decode(encoded) == plain


def test_hmac_of_rfc_4231_case_1():
    """The tag is Python's own HMAC; this shows that it is the one meant."""
    digest = session.hmac.new(b"\x0b" * 20, b"Hi There", session.hashlib.sha256).hexdigest()
    assert digest == "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7"


# ---- golden files


def test_the_golden_files_are_those_that_golden_writes():
    for name, make in golden.FILES.items():
        assert (GOLDEN / name).read_text(encoding="ascii") == make(), f"{name}: run python3 -m strandproof_wire.golden"


def test_golden_frames_decode_to_their_meaning():
    for b in blocks("frames.txt"):
        (f,) = frame.Decoder().feed(raw(b["frame"]))
        assert (f.type, f.device, f.session) == (int(b["type"]), int(b["device"]), int(b["session"])), b["what"]
        assert f.payload == raw(b["payload"]), b["what"]
        assert golden.plain(messages.decode(b["message"], f.payload)) == json.loads(b["fields"]), b["what"]


def test_golden_refusals():
    good = frame.encode(frame.Frame(7))
    for b in blocks("refused.txt"):
        decoder = frame.Decoder()
        assert decoder.feed(raw(b["bytes"])) == [], b["why"]
        assert decoder.bad == 1, b["why"]
        assert len(decoder.feed(good)) == 1, b["why"]


def test_strict_refuses_what_tolerant_takes():
    good = messages.encode("BedEntry", {"bed": 1, "position": 2, "kind": 1})
    assert messages.decode("BedEntry", good, strict=True) == {"bed": 1, "position": 2, "kind": 1}
    for odd in (good + b"\x28\x01", b"\x08\x01" + good, b"\x10\x02\x08\x01", b"\x08\x81\x00"):
        messages.decode("BedEntry", odd)
        with pytest.raises(frame.Refused):
            messages.decode("BedEntry", odd, strict=True)


# ---- SPEC.md and the .proto say the same


def spec_tables():
    text = (ROOT / "proto" / "SPEC.md").read_text(encoding="utf-8")
    table, name = {}, None
    for line in re.search(r"```wire\n(.*?)```", text, re.S).group(1).splitlines():
        row = re.match(r" (\d+) (\S+) (\w+)", line)
        if row:
            kind = re.sub(r"\[(\d+)\]", r":\1", row.group(2))
            table[name].append((int(row.group(1)), kind, row.group(3)))
        else:
            name = line.strip()
            table[name] = []
    return table


def test_the_tables_here_are_those_of_spec():
    assert spec_tables() == messages.FIELDS


def test_the_tables_here_are_those_of_the_proto():
    text = (ROOT / "proto" / "strandproof" / "wire.proto").read_text(encoding="ascii")
    options = (ROOT / "proto" / "strandproof" / "wire.options").read_text(encoding="ascii")
    size = {m: int(n) for m, n in re.findall(r"strandproof\.wire\.(\S+) max_(?:size|count):(\d+)", options)}
    text = re.sub(r"//.*", "", text)
    proto = {}
    for name, body in re.findall(r"message (\w+) \{((?:[^{}]|\{[^{}]*\})*)\}", text):
        rows = re.findall(r"(repeated )?(\w+) (\w+) = (\d+);", body)
        proto[name] = [(int(n), kind_of(f"{name}.{f}", bool(r), t, size), f) for r, t, f, n in rows]
    assert proto == messages.FIELDS


def kind_of(path, repeated, kind, size):
    if repeated and kind[0].isupper():
        return f"many:{kind}:{size[path]}"
    short = {"uint32": "u32", "uint64": "u64", "sint32": "s32", "bool": "bool"}
    if kind == "string":
        return "lines" if repeated else f"str:{size[path] - 1}"  # the controller keeps a zero behind it
    if kind == "bytes":
        return f"bytes:{size[path]}"
    if repeated:
        return f"{'srep' if kind == 'sint32' else 'rep'}:{size[path]}"
    return short.get(kind, kind)


# ---- against the C++ end


@pytest.fixture(scope="module")
def cpp():
    """Asks the C++ codec one line, gets its answer lines."""
    tool = pathlib.Path(os.environ.get("STRANDPROOF_BUILD", ROOT / "build" / "release")) / "tests/proto/frame_tool"
    if not tool.exists():
        pytest.skip(f"{tool} is not built")
    with subprocess.Popen([tool], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:

        def ask(line):
            process.stdin.write(line + "\n")
            process.stdin.flush()
            return list(iter(lambda: process.stdout.readline().rstrip("\n"), ""))

        yield ask
        process.stdin.close()


def hexed(data):
    return data.hex() or "-"


def test_both_ends_encode_the_same_frames_and_read_each_others(cpp):
    pick = random.Random(3720)
    lengths = [0, 1, 237, 238, 239, 253, 254, 255, 492, 493] + [pick.randrange(494) for _ in range(150)]
    for n in lengths:
        payload = bytes(pick.choice((0, 0xFF, pick.randrange(256))) for _ in range(n))
        f = frame.Frame(pick.randrange(1, 256), pick.randrange(2**32), pick.randrange(2**32), pick.randrange(2**32), payload)
        ours = frame.encode(f)
        head = f"{f.type} {f.device} {f.session} {f.sequence} {hexed(payload)}"
        assert cpp("encode " + head) == [ours.hex()]
        assert cpp("decode " + ours.hex()) == [head, "bad 0 dropped 0"]


def test_both_ends_find_the_same_frames_in_a_damaged_stream(cpp):
    pick = random.Random(5)
    found = bad = 0
    for _ in range(400):
        stream = bytearray()
        for _ in range(pick.randrange(1, 5)):
            stream += frame.encode(frame.Frame(8, 4711, 7, 1, bytes(pick.randrange(256) for _ in range(20))))
        for _ in range(pick.randrange(3)):
            stream[pick.randrange(len(stream))] ^= 1 << pick.randrange(8)
        del stream[pick.randrange(len(stream)) :]
        decoder = frame.Decoder()
        ours = [f"8 4711 7 1 {f.payload.hex()}" for f in decoder.feed(bytes(stream) + b"\0")]
        assert cpp(f"decode {stream.hex()}00") == ours + [f"bad {decoder.bad} dropped {decoder.dropped}"]
        found, bad = found + len(ours), bad + decoder.bad
    assert found > 100 and bad > 50


def test_lock_step_frames_have_their_lengths():
    assert len(lockstep.sample(1, [0] * 5, 0)) == 19
    assert len(lockstep.answer(1, 0, 0, 0, 0)) == 8
