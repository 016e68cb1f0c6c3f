"""The chain of the log (SPEC.md 11), written from that page: making one for the golden file, and following one."""

import hashlib
import hmac
import struct

from strandproof_wire import ed25519, messages

SEAL_HEAD = b"\x7a\x38"
SEAL_SIZE = 58


def _hmac(key, message):
    return hmac.new(key, message, hashlib.sha256).digest()


def chain_key(pairing):
    return _hmac(pairing, b"strandproof chain key")


def paired_secret(pairing, device, epoch):
    return _hmac(chain_key(pairing), b"strandproof chain" + struct.pack("<II", device, epoch))


def next_secret(secret):
    return _hmac(secret, b"strandproof next")


def tag_key(secret):
    return _hmac(secret, b"strandproof tag")


def tag_with(key, link):
    return _hmac(key, link)[:16]


def tag_of(secret, link):
    return tag_with(tag_key(secret), link)


def link_of(device, record, epoch, gap, before):
    """record: sequence, boot, tick_ms, content; before: link and tag of the record before, 48 bytes."""
    content = record["content"]
    head = struct.pack("<IQIQIII", device, record["sequence"], record["boot"], record["tick_ms"], epoch, gap, len(content))
    return hashlib.sha256(b"strandproof link" + head + before + content).digest()


def signed_text(c):
    return (
        b"strandproof checkpoint"
        + struct.pack("<IIQ", c["device"], c.get("epoch", 0), c.get("covers", 0))
        + c["link"]
        + struct.pack("<QQI", c.get("next_host", 0), c.get("utc_s", 0), c.get("clock_quality", 0))
    )


def split(body):
    """Content and seal of a body: (content, epoch, gap, link, tag); None if it has no seal."""
    content, seal = body[:-SEAL_SIZE], body[-SEAL_SIZE:]
    if seal[:2] != SEAL_HEAD:
        return None
    epoch, gap = struct.unpack("<II", seal[2:10])
    return content, epoch, gap, seal[10:42], seal[42:]


def join(content, epoch, gap, link, tag):
    return content + SEAL_HEAD + struct.pack("<II", epoch, gap) + link + tag


class Refused(Exception):
    """The first record that does not belong to the chain, and why."""

    def __init__(self, sequence, why):
        super().__init__(f"record {sequence}: {why}")
        self.sequence, self.why = sequence, why


def follow(device, records, pairing=None, host_id=None, public_key=None, before=None, tag_keys=None):
    """Follows LogRecords from the first of a memory on, or from behind the record that `before` tells of. tag_keys: of
    single epochs, as a host has given them. Refused at the first one that does not belong; else what was seen: how many
    checkpoints and tags were checked, the head, the key."""
    last, due, secret, links = 0, 0, None, {}
    if before is not None:
        last, due = before["sequence"], before["epoch"] + before["ends_epoch"]
        links[last] = before["link"]
    before = before["link"] + before["tag"] if before is not None else bytes(48)
    seen = {"checkpoints": 0, "tags": 0, "head": None, "public_key": public_key}
    for r in records:
        sequence = r["sequence"]
        parts = split(r["body"])
        if parts is None:
            raise Refused(sequence, "no seal")
        content, epoch, gap, link, tag = parts
        if gap != (sequence - last if last else 0):
            raise Refused(sequence, "the record before it is not the one that it was sealed behind")
        if link != link_of(device, {**r, "boot": r.get("boot", 0), "tick_ms": r.get("tick_ms", 0), "content": content},
                           epoch, gap, before):  # fmt: skip
            raise Refused(sequence, "changed")
        if epoch != due:
            raise Refused(sequence, "another epoch than the one that is due")
        key = tag_key(secret) if secret is not None else (tag_keys or {}).get(epoch)
        if key is not None:
            seen["tags"] += 1
            if tag_with(key, link) != tag:
                raise Refused(sequence, "its tag is not that of the jack's key")
        links[sequence] = link
        checkpoint = messages.decode("Record", content).get("checkpoint")
        if checkpoint is not None:
            _check(sequence, checkpoint, device, epoch, links, seen)
            due = epoch + 1
            secret = secret and next_secret(secret)
            if checkpoint.get("next_host", 0):
                ours = checkpoint["next_host"] == host_id
                secret = paired_secret(pairing, device, due) if ours else None
        before, last = link + tag, sequence
        seen["head"] = link
    return seen


def _check(sequence, checkpoint, device, epoch, links, seen):
    key = checkpoint["public_key"]
    if checkpoint["device"] != device or key != (seen["public_key"] or key):
        raise Refused(sequence, "another jack's checkpoint")
    if not ed25519.verify(key, signed_text(checkpoint), checkpoint["signature"]):
        raise Refused(sequence, "signature wrong")
    if checkpoint.get("epoch", 0) != epoch or links.get(checkpoint.get("covers", 0)) != checkpoint["link"]:
        raise Refused(sequence, "stands for another past")
    seen["public_key"] = key
    seen["checkpoints"] += 1


class Maker:
    """Makes a chain as a jack does, for the golden file."""

    def __init__(self, device, secret, seed):
        self.device, self.secret, self.seed = device, secret, seed
        self.records, self.before, self.epoch = [], bytes(48), 0

    def add(self, message, sequence, boot, tick_ms):
        content = messages.encode("Record", message)
        last = self.records[-1]["sequence"] if self.records else 0
        gap = sequence - last if last else 0
        record = {"sequence": sequence, "boot": boot, "tick_ms": tick_ms, "content": content}
        link = link_of(self.device, record, self.epoch, gap, self.before)
        tag = tag_of(self.secret, link)
        self.records.append({"sequence": sequence, "boot": boot, "tick_ms": tick_ms,
                             "body": join(content, self.epoch, gap, link, tag)})  # fmt: skip
        self.before = link + tag

    def checkpoint(self, sequence, boot, tick_ms, following=None, next_host=0):
        c = {"device": self.device, "epoch": self.epoch, "covers": self.records[-1]["sequence"],
             "link": self.before[:32], "next_host": next_host, "utc_s": 1800000000, "clock_quality": 1,
             "public_key": ed25519.public_key(self.seed)}  # fmt: skip
        c["signature"] = ed25519.sign(self.seed, signed_text(c))
        self.add({"checkpoint": c}, sequence, boot, tick_ms)
        self.epoch += 1
        self.secret = following or next_secret(self.secret)
