"""Writes proto/golden/*.txt: python3 -m strandproof_wire.golden FOLDER. All numbers are invented."""

import json
import pathlib
import sys

from strandproof_wire import chain as log_chain
from strandproof_wire import ed25519, frame, lockstep, messages, session
from strandproof_wire.checks import crc32c

KEY = bytes(range(1, 33))
TABLE_KEY = bytes(range(101, 133))
SECRET = bytes(range(201, 233))
DEVICE, BOOT, SESSION = 4711, 7, 7 << 16 | 3
NONCE = session.nonce(SECRET, BOOT, SESSION)
HOST = 0x1122334455667788

CURVE = {"curve_um": [0, 21000, 22500, 60000, -40], "curve_n": [15000, 7100, 7600, 20300, -60]}
FRAMES = [
    ("to whoever is there", "Identify", {"protocol_major": 1, "host_id": HOST}),
    ("a simulated jack without a table", "Identity",
     {"protocol_major": 1, "jack_serial": DEVICE, "origin": 1, "build": "0.1.0", "boot": BOOT, "nonce": NONCE,
      "now_ms": 70001, "sensor_a_serial": 11, "sensor_b_serial": 12, "stroke_sensor_serial": 13, "first_record": 1,
      "last_record": 40}),
    ("asks to be paired", "PairRequest",
     {"host_id": HOST, "host_name": "yard office", "key": KEY}),
    ("digits are on the display", "PairReply",
     {"check": session.pairing_check(KEY, DEVICE, NONCE), "waiting": True}),
    ("nobody confirmed", "PairReply", {"code": 47, "check": 100000}),
    ("refused: overdue table", "Reply", {"counter": 3, "code": 2}),
    ("done, next chunk 2", "Reply", {"counter": 4, "next_chunk": 2}),
    ("no payload at all", "StatusGet", {}),
    ("four lines of the display", "Status",
     {"now_ms": 70100, "state": 4, "load_state": 1, "instruction": 12, "table_revision": 3, "utc_s": 1800000000,
      "clock_quality": 1, "frames_bad": 2, "frames_dropped_bytes": 31, "tags_bad": 1, "last_record": 41,
      "display": ["LOAD ON JACK", "MAIN PULL", "104.2 kN", "HOLD ENABLE AND ADVANCE"], "link_blocked_ms": 599999,
      "copies_needed": 2, "copies": [{"id": 0x1122334455667788, "name": "yard office:archive", "up_to": 41},
                                     {"id": 2**64 - 1, "name": "disk in the safe"}]}),
    ("every 50 ms", "TelemetrySet", {"period_ms": 50}),
    ("negative numbers", "Telemetry",
     {"now_ms": 70150, "state": 4, "load_state": 1, "force_n": -1, "force_valid": True, "pressure_a_mbar": -70,
      "pressure_b_mbar": 217100, "elongation_um": -2147483648, "stroke_um": 2147483647, "outputs": 0x25,
      "oil_tenths_degc": -105}),
    ("a window of the log", "LogGet", {"from": 2**63, "count": 128, "run": 7}),
    ("nothing there yet", "LogRecord", {"from": 2**63, "run": 7}),
    ("a stored event, over a gap in the sequence", "LogRecord",
     {"sequence": 41, "boot": BOOT, "tick_ms": 70200, "from": 38,
      "body": messages.encode("Record", {"event": {"code": 3, "cause": 14, "state": 10, "load_state": 3,
                                                   "instruction": 12, "force_n": 78000, "stroke_um": 95000,
                                                   "detail": 14, "utc_s": 1800000000, "clock_quality": 1}})}),
    ("a stored pull", "LogRecord",
     {"sequence": 42, "boot": BOOT, "tick_ms": 90200, "from": 42,
      "body": messages.encode("Record", {"pull": {"instruction": 12, "bed": 3, "position": 4, "bed_name": "BED 3",
                                                  "strand_name": "12.9 mm 1860", "verdict": 1, "settle_n": 130020,
                                                  "draw_in_um": -5, "run_on_ms": 31, **CURVE}})}),
    ("two points of a curve, falling", "LogRecord",
     {"sequence": 43, "boot": BOOT, "tick_ms": 90200, "from": 43,
      "body": messages.encode("Record", {"curve": {"instruction": 12, "first": 60, "total": 62,
                                                   "points": messages.put_rows([[41000, 250000, 96000],
                                                                                [41021, 249999, -2147483648]])}})}),
    ("a pull whose curve stands before it", "LogRecord",
     {"sequence": 44, "boot": BOOT, "tick_ms": 90200, "from": 44,
      "body": messages.encode("Record", {"pull": {"instruction": 12, "curve_points": 62, "curve_within_um": 361,
                                                  "curve_within_n": 131}})}),
    ("a pull in three strokes", "LogRecord",
     {"sequence": 48, "boot": BOOT, "tick_ms": 358000, "from": 48,
      "body": messages.encode("Record", {"pull": {"instruction": 13, "strokes": 3, "stroke_rows":
                                                  messages.put_rows([[53000, 3100, 52600], [94600, 2900, 0]])}})}),
    ("what the detectors saw at a break", "LogRecord",
     {"sequence": 45, "boot": BOOT, "tick_ms": 70201, "from": 45,
      "body": messages.encode("Record", {"snapshot": {"trip_ms": 70200, "cause": 14, "state": 4,
                                                      "pressure_span_mbar": 700000, "stroke_span_um": 600000,
                                                      "rows": messages.put_rows([[1, 78000, 139000, 0],
                                                                                 [14, 1647, 250, 1],
                                                                                 [103, 250000, 347000, 3]])}})}),
    ("two of its samples, the second with the outputs off", "LogRecord",
     {"sequence": 46, "boot": BOOT, "tick_ms": 70501, "from": 46,
      "body": messages.encode("Record", {"snapshot": {"trip_ms": 70200, "cause": 14, "part": 1, "begin_ms": -500,
                                                      "from_ms": -1, "total": 800,
                                                      "rows": messages.put_rows([[21000, 21010, 30000, 0x27F07F],
                                                                                 [65535, 0, 30001, 0x00F07F]])}})}),
    ("asks to enrol a table key", "TableKeyRequest", {"name": "lab 1", "key": TABLE_KEY}),
    ("its fingerprint is on the display", "TableKeyReply",
     {"waiting": True, "fingerprint": session.fingerprint(TABLE_KEY)}),
    ("what do you hold", "TablesGet", {}),
    ("two slots, two keys", "Tables",
     {"slot_a": {"revision": 3, "state": 1, "sha256": bytes(range(32)), "length": 700, "calibrated_s": 1790000000,
                 "due_s": 1821536000, "class_tenths": 10, "uncertainty_ppm": 6100,
                 "key_fingerprint": session.fingerprint(TABLE_KEY)},
      "slot_b": {"revision": 4, "state": 3, "sha256": bytes(32), "length": 701, "calibrated_s": 1795000000,
                 "due_s": 1826536000, "uncertainty_ppm": 6000, "key_fingerprint": bytes(8), "pulls": 12},
      "active": 2, "floor": 4, "withdrawn_reason": 1, "refusal": 23,
      "keys": [{"name": "lab 1", "fingerprint": session.fingerprint(TABLE_KEY)},
               {"name": "lab 2", "fingerprint": bytes(8)}]}),
    ("first chunk of slot B", "TableRead", {"slot": 2}),
    ("and its bytes", "TableBytes", {"slot": 2, "data": bytes(160), "signature": bytes(range(64))}),
    ("the longest payload: a log record full of zeros and of highest numbers", "LogRecord",
     {"sequence": 2**64 - 1, "boot": 2**32 - 1, "tick_ms": 2**64 - 1, "body": bytes(448), "from": 2**64 - 1,
      "run": 255}),
]  # fmt: skip

BODIES = [
    ("ClockSet", {"utc_s": 1800000000}),
    ("TableBegin", {"revision": 3, "length": 700, "sha256": bytes(range(32))}),
    ("TableChunk", {"index": 4, "data": bytes(60)}),
    ("TableCommit", {"revision": 3, "signature": bytes(range(64))}),
    ("PullInstruction",
     {"id": 12, "bed": 3, "position": 4, "bed_name": "BED 3", "strand_name": "12.9 mm 1860", "reel": 88,
      "jack_serial": DEVICE, "initial_n": 15000, "seated_n": 125000, "jack_n": 130000, "limit_n": 139000,
      "stiffness_n_per_m": 315000, "stiffness_ppm": 30000, "elongation_um": 365000, "elongation_min_um": 347000,
      "elongation_max_um": 383000, "draw_in_um": 5000, "draw_in_max_um": 8000, "slack_max_um": 120000,
      "force_window_ppm": 50000}),
    ("BedEntry", {"bed": 3, "position": 4, "kind": 1, "by": "foreman"}),
    ("RecordRelease", {"up_to": 42, "copy": 0x1122334455667788, "name": "yard office:archive"}),
    ("TableWithdraw", {"revision": 4, "reason": 1}),
    ("TableUndo", {"from": 4, "to": 3}),
]  # fmt: skip


def plain(value):
    """Bytes as hex, for JSON."""
    if isinstance(value, dict):
        return {k: plain(v) for k, v in value.items()}
    if isinstance(value, list):
        return [plain(v) for v in value]
    return value.hex() if isinstance(value, bytes) else value


def block(**lines):
    return "".join(f"{key} {value if value != '' else '-'}\n" for key, value in lines.items()) + "\n"


def frames():
    out = "# Frames and what they mean. Written by strandproof_wire.golden; all numbers are invented.\n\n"
    for number, (what, name, message) in enumerate(FRAMES):
        first = name == "Identify"
        payload = messages.encode(name, message)
        f = frame.Frame(session.TYPES[name], 0 if first else DEVICE, 0 if first else SESSION, number, payload)
        out += block(what=what, message=name, fields=json.dumps(plain(message)), type=f.type, device=f.device,
                     session=f.session, sequence=number, payload=payload.hex(), frame=frame.encode(f).hex())  # fmt: skip
    return out


def around(encoded):
    return b"\0" + encoded + frame.check_bytes(crc32c(encoded)) + b"\0"


def refused():
    good = frame.encode(frame.Frame(8, DEVICE, SESSION, 1, b"\x08\x05"))
    plain_text = frame.cobs_decode(good[1:-6])
    ends_full = frame.encode(frame.Frame(8, 0x11111111, 0x11111111, 0x11111111, b"\x11" * 242))[1:-6]
    crc_inside = frame.cobs_encode(plain_text + crc32c(plain_text).to_bytes(4, "little"))
    flipped = bytes([good[4] ^ 1])
    cases = [
        ("one bit flipped", good[:4] + flipped + good[5:]),
        ("cut before the last byte of the check", good[:-2] + b"\0"),
        ("the check of another frame", good[:-6] + frame.encode(frame.Frame(7))[-6:]),
        ("bit 7 of a check byte missing", good[:-2] + bytes([good[-2] & 0x7F]) + b"\0"),
        ("a high bit set in the last check byte", good[:-2] + bytes([good[-2] | 0x40]) + b"\0"),
        ("check inside the stuffing", b"\0" + crc_inside + b"\0"),
        ("length one too high", around(frame.cobs_encode(plain_text[:2] + b"\x03\0" + plain_text[4:]))),
        ("length one too low", around(frame.cobs_encode(plain_text[:2] + b"\x01\0" + plain_text[4:]))),
        ("version 2", around(frame.cobs_encode(b"\x02" + plain_text[1:]))),
        ("no whole header", around(frame.cobs_encode(plain_text[:15]))),
        ("not canonical: 01 behind a final full piece", around(ends_full + b"\x01")),
        ("a piece longer than what is there", around(b"\x05abc")),
        ("513 encoded bytes", around(b"\x01" * 513)),
        ("nothing but a check", b"\0" + frame.check_bytes(0) + b"\0"),
    ]
    out = "# Byte strings of which no frame may come. A good frame behind each must come.\n\n"
    return out + "".join(block(why=why, bytes=data.hex()) for why, data in cases)


def sealed():
    out = "# Sealed messages: the tag and the whole payload. Keys are counting bytes, for tests only.\n\n"
    out += block(what="pairing and nonce", key=KEY.hex(), seal_key=session.seal_key(KEY).hex(), table_key=TABLE_KEY.hex(),
                 fingerprint=session.fingerprint(TABLE_KEY).hex(), secret=SECRET.hex(), boot=BOOT,
                 session=SESSION, device=DEVICE, nonce=NONCE.hex(),
                 check=session.pairing_check(KEY, DEVICE, NONCE))  # fmt: skip
    for counter, (kind, message) in enumerate(BODIES, 1):
        body = messages.encode(kind, message)
        s = {"counter": counter, "valid_until_ms": 75000 + counter, "host_id": HOST, "kind": session.KINDS[kind],
             "body": body}  # fmt: skip
        s["tag"] = session.tag(session.seal_key(KEY), DEVICE, NONCE, s)
        out += block(what=kind, fields=json.dumps(plain(message)), counter=counter, valid_until_ms=s["valid_until_ms"],
                     host_id=HOST, kind=s["kind"], body=body.hex(), tag=s["tag"].hex(),
                     payload=messages.encode("Sealed", s).hex())  # fmt: skip
    return out


def lock_step():
    out = "# Lock-step frames with their kind byte, where they have one.\n\n"
    analog = [10923, 10930, 20000, 0, 30000]
    out += block(what="sample", tick=16909060, analog=" ".join(map(str, analog)), digital=0xE80F,
                 frame=lockstep.sample(16909060, analog, 0xE80F).hex())  # fmt: skip
    out += block(what="answer", tick=772, outputs=0x25, state=4, cause=101, load_state=1,
                 frame=lockstep.answer(16909060, 0x25, 4, 101, 1).hex())  # fmt: skip
    out += block(what="link", data="000102ff", frame=lockstep.link(b"L", bytes([0, 1, 2, 255])).hex())
    out += block(what="sent", data="-", frame=lockstep.link(b"l", b"").hex())
    return out


def chain():
    """Nine records, two boots, a number that a cut has left out, a pairing, three epochs."""
    unpaired, seed = bytes(range(33, 65)), bytes(range(65, 97))
    maker = log_chain.Maker(DEVICE, unpaired, seed)
    maker.add({"event": {"code": 1, "detail": 1}}, 1, 1, 0)
    maker.add({"event": {"code": 10, "detail": 2}}, 2, 1, 90)
    maker.checkpoint(3, 1, 700, log_chain.paired_secret(KEY, DEVICE, 1), HOST)
    maker.add({"event": {"code": 3, "cause": 14, "force_n": 141200}}, 4, 1, 70000)
    maker.add({"pull": {"instruction": 12, "bed": 3, "position": 4, "settle_n": 140100, **CURVE}}, 5, 1, 90000)
    maker.checkpoint(6, 1, 90400)
    maker.add({"event": {"code": 1, "detail": 2}}, 8, 2, 0)
    maker.checkpoint(9, 2, 600)
    maker.add({"event": {"code": 2}}, 10, 2, 2**40)
    out = "# A log as a jack makes it (section 11), whole, from its first record on. Keys are counting bytes.\n\n"
    out += block(what="keys", device=DEVICE, host_id=HOST, key=KEY.hex(), chain_key=log_chain.chain_key(KEY).hex(),
                 public_key=ed25519.public_key(seed).hex())  # fmt: skip
    for r in maker.records:
        out += block(what="record", sequence=r["sequence"], boot=r["boot"], tick_ms=r["tick_ms"], body=r["body"].hex())
    return out


FILES = {"chain.txt": chain, "frames.txt": frames, "refused.txt": refused, "sealed.txt": sealed, "lockstep.txt": lock_step}


def read(path):
    """The blocks of a golden file, as dicts."""
    blocks, current = [], {}
    for line in pathlib.Path(path).read_text(encoding="ascii").splitlines() + [""]:
        if line.startswith("#"):
            continue
        if line:
            key, _, value = line.partition(" ")
            current[key] = value
        elif current:
            blocks.append(current)
            current = {}
    return blocks


def main():
    folder = pathlib.Path(sys.argv[1])
    for name, make in FILES.items():
        (folder / name).write_text(make(), encoding="ascii")


if __name__ == "__main__":
    main()
