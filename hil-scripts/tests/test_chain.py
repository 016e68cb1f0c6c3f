"""The chain of the log in Python: RFC 8032's vectors, and the golden log with a bit of every byte flipped, records
taken out, doubled, or another jack's. A live jack's log is followed in test_live_wire.py."""

import pathlib
import sys

import pytest

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "hil-scripts"))

from strandproof_wire import chain, ed25519, golden  # noqa: E402

# RFC 8032, section 7.1, tests 1 to 3: secret key, public key, message, signature.
RFC8032 = [
    ("9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
     "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a", "",
     "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46b"
     "d25bf5f0595bbe24655141438e7a100b"),
    ("4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
     "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c", "72",
     "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c"
     "387b2eaeb4302aeeb00d291612bb0c00"),
    ("c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
     "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025", "af82",
     "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc659"
     "4a7c15e9716ed28dc027beceea1ec40a"),
]  # fmt: skip


@pytest.mark.parametrize("secret, public, message, signature", RFC8032)
def test_ed25519_is_that_of_the_rfc(secret, public, message, signature):
    secret, public, message, signature = (bytes.fromhex(t) for t in (secret, public, message, signature))
    assert ed25519.public_key(secret) == public
    assert ed25519.sign(secret, message) == signature
    assert ed25519.verify(public, message, signature)
    assert not ed25519.verify(public, message + b"x", signature)


def golden_log():
    blocks = golden.read(ROOT / "proto" / "golden" / "chain.txt")
    keys = blocks[0]
    records = [
        {"sequence": int(b["sequence"]), "boot": int(b["boot"]), "tick_ms": int(b["tick_ms"]),
         "body": bytes.fromhex(b["body"])}
        for b in blocks[1:]
    ]  # fmt: skip
    how = {"pairing": bytes.fromhex(keys["key"]), "host_id": int(keys["host_id"]),
           "public_key": bytes.fromhex(keys["public_key"])}  # fmt: skip
    return int(keys["device"]), records, how


def test_the_golden_log_holds():
    device, records, how = golden_log()
    seen = chain.follow(device, records, **how)
    assert (seen["checkpoints"], seen["tags"]) == (3, 6)


def test_every_flipped_byte_is_named():
    device, records, how = golden_log()
    for n, record in enumerate(records):
        for at in range(len(record["body"])):
            body = bytearray(record["body"])
            body[at] ^= 1 << (at + n) % 8
            changed = [*records[:n], {**record, "body": bytes(body)}, *records[n + 1 :]]
            if n < 3 and at >= len(body) - 16:  # the tag of an epoch that nobody has the key of: the next link holds it
                with pytest.raises(chain.Refused, match=f"record {records[n + 1]['sequence']}:"):
                    chain.follow(device, changed, **how)
                continue
            with pytest.raises(Exception, match=f"record {record['sequence']}:"):
                chain.follow(device, changed, **how)


def test_deleted_swapped_doubled_and_foreign_records_are_named():
    device, records, how = golden_log()
    for n in range(len(records) - 1):
        with pytest.raises(chain.Refused, match=f"record {records[n + 1]['sequence']}:"):
            chain.follow(device, records[:n] + records[n + 1 :], **how)
        with pytest.raises(chain.Refused):
            chain.follow(device, records[: n + 1] + records[n:], **how)
    with pytest.raises(chain.Refused, match="record 1: changed"):
        chain.follow(device + 1, records, **how)
    with pytest.raises(chain.Refused, match="record 3: another jack's checkpoint"):
        chain.follow(device, records, **{**how, "public_key": bytes(32)})
