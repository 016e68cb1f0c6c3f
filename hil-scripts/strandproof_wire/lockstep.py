"""The raw lock-step frames (SPEC.md 9)."""

import struct

from strandproof_wire.checks import crc16

SAMPLE = struct.Struct("<I5HH")
ANSWER = struct.Struct("<HBBBB")


def sample(tick, analog, digital):
    body = SAMPLE.pack(tick, *analog, digital)
    return b"S" + body + struct.pack("<H", crc16(body))


def answer(tick, outputs, state, cause, load_state):
    body = ANSWER.pack(tick & 0xFFFF, outputs, state, cause, load_state)
    return body + struct.pack("<H", crc16(body))


def link(kind, data):
    return kind + struct.pack("<H", len(data)) + data
