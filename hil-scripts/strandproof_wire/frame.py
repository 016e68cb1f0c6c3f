"""COBS and the frame (SPEC.md 1)."""

import struct
from dataclasses import dataclass

from strandproof_wire.checks import crc32c

VERSION = 1
ENCODED_MAX = 512
PAYLOAD_MAX = 493
HEADER = struct.Struct("<BBHIII")


class Refused(ValueError):
    """What a decoder may not accept, with the reason."""


def cobs_encode(plain):
    out = bytearray()
    pieces = plain.split(b"\0")
    for number, piece in enumerate(pieces):
        last = number == len(pieces) - 1
        while len(piece) >= 254:
            out += b"\xff" + piece[:254]
            piece = piece[254:]
            if last and not piece:
                return bytes(out)  # canonical: nothing follows a final full piece
        out += bytes([len(piece) + 1]) + piece
    return bytes(out)


def cobs_decode(encoded):
    if not encoded or 0 in encoded:
        raise Refused("COBS: empty, or a zero inside")
    out, at = bytearray(), 0
    while at < len(encoded):
        code = encoded[at]
        piece = encoded[at + 1 : at + code]
        if len(piece) != code - 1:
            raise Refused("COBS: a piece is cut")
        out += piece
        at += code
        if code != 0xFF and at < len(encoded):
            out.append(0)
    if cobs_encode(bytes(out)) != encoded:
        raise Refused("COBS: not the canonical form")
    return bytes(out)


def check_bytes(crc):
    return bytes(0x80 | ((crc >> (7 * i)) & 0x7F) for i in range(5))


@dataclass
class Frame:
    type: int
    device: int = 0
    session: int = 0
    sequence: int = 0
    payload: bytes = b""


def encode(frame):
    if len(frame.payload) > PAYLOAD_MAX:
        raise ValueError(f"payload of {len(frame.payload)} bytes; {PAYLOAD_MAX} fit")
    header = HEADER.pack(VERSION, frame.type, len(frame.payload), frame.device, frame.session, frame.sequence)
    body = cobs_encode(header + frame.payload)
    return b"\0" + body + check_bytes(crc32c(body)) + b"\0"


def decode_piece(piece):
    """What stood between two zeros."""
    if len(piece) <= 5 or len(piece) > ENCODED_MAX + 5:
        raise Refused("too short or too long")
    body, check = piece[:-5], piece[-5:]
    if check_bytes(crc32c(body)) != check:
        raise Refused("CRC")
    plain = cobs_decode(body)
    if len(plain) < HEADER.size:
        raise Refused("no whole header")
    version, kind, length, device, session, sequence = HEADER.unpack_from(plain)
    if version != VERSION:
        raise Refused("version")
    if length != len(plain) - HEADER.size:
        raise Refused("length")
    return Frame(kind, device, session, sequence, plain[HEADER.size :])


class Decoder:
    """Takes a stream apart; counts what it drops."""

    def __init__(self):
        self.rest = b""
        self.bad = 0
        self.dropped = 0

    def feed(self, data):
        *pieces, self.rest = (self.rest + data).split(b"\0")
        frames = []
        for piece in filter(None, pieces):
            try:
                frames.append(decode_piece(piece))
            except Refused:
                self.bad += 1
                self.dropped += len(piece)
        return frames
