"""A bundle (host-tool/bundle/README.md) read and checked again without the host tool: digest of its data block, chains and
checkpoints, signatures of the gauge tables, instructions against the records, the chain of what people entered. What the
page says beside its digest is the host tool's matter: it makes the page again and compares."""

import datetime
import hashlib
import json
import re

from strandproof_wire import chain, ed25519, messages

BEGIN, END = '<script type="application/json" id="strandproof-bundle">\n', "\n</script>\n</body></html>\n"
# Of an instruction and of the pull's record; the jack keeps lengths as floating-point metres.
SAME = ["bed", "position", "reel", "bed_name", "strand_name", "initial_n", "seated_n", "jack_n", "limit_n"]
NEAR = [("elongation_um", "elongation_plan_um"), ("elongation_min_um", "elongation_min_um"),
        ("elongation_max_um", "elongation_max_um")]  # fmt: skip


class Refused(Exception):
    """What does not hold."""


def sha256(data):
    return hashlib.sha256(data).hexdigest()


def load(text):
    """The data of a bundle, of which the digest on the page is the first thing that must be right."""
    at = text.find(BEGIN)
    if at < 0 or not text.endswith(END):
        raise Refused("no bundle, or cut off")
    block = text[at + len(BEGIN) : -len(END)]
    printed = re.search(r'id="data-sha256">([0-9a-f]{64})<', text)
    if printed is None or printed[1] != sha256(block.encode()):
        raise Refused("the data block is not the one whose digest stands on the page")
    data = json.loads(block)
    if (data["format"], data["version"]) != ("strandproof bundle", 1):
        raise Refused("another form")
    return data


def log_records(data, serial):
    return [{"sequence": r["sequence"], "boot": r["boot"], "tick_ms": r["tick_ms"], "body": bytes.fromhex(r["body"])}
            for r in data["records"] if r["jack"] == serial]  # fmt: skip


def check_jack(data, jack):
    before = jack["before"]
    if before is not None:
        before = {**before, "link": bytes.fromhex(before["link"]), "tag": bytes.fromhex(before["tag"])}
    head = jack["head"]
    key = bytes.fromhex(head["public_key"]) if head and head["public_key"] else None
    tag_keys = {epoch: bytes.fromhex(k) for epoch, k in jack["tag_keys"]}
    records = log_records(data, jack["serial"])
    try:
        seen = chain.follow(jack["serial"], records, public_key=key, before=before, tag_keys=tag_keys)
    except chain.Refused as why:
        raise Refused(f"jack {jack['serial']}, {why}") from why
    for r in records:
        if head and r["sequence"] == head["sequence"] and chain.split(r["body"])[3].hex() != head["link"]:
            raise Refused(f"jack {jack['serial']}: the head is of another record {r['sequence']}")
    return seen


def held_bytes(table, revision):
    """What the jack holds of a table's file: the encoded GaugeTable of SPEC.md."""
    times = {name: _utc_s(table[name]) for name in ("calibrated", "due")}
    message = {"revision": revision, "jack_serial": table["jack_serial"], "sensor_a_serial": table["sensor_a_serial"],
               "sensor_b_serial": table["sensor_b_serial"], "calibrated_s": times["calibrated"], "due_s": times["due"],
               "class_tenths": table["class_tenths"], "uncertainty_ppm": table["uncertainty_ppm"],
               "origin": ["simulated", "emulated", "hardware"].index(table["origin"]) + 1}  # fmt: skip
    for name, column in table["columns"].items():
        points = column["points_mbar_n"]
        if points:
            message[name] = {"pressure_mbar": [p[0] for p in points], "force_n": [p[1] for p in points]}
    order = [field for _, _, field in messages.FIELDS["GaugeTable"]]
    return messages.encode("GaugeTable", {name: message[name] for name in order if name in message})


def _utc_s(text):
    return int(datetime.datetime.fromisoformat(text.replace("Z", "+00:00")).timestamp())


def check_table(data, entry):
    """Digest and signature; nothing if its signature was not kept."""
    held = held_bytes(json.loads(bytes.fromhex(entry["file"])), entry["revision"])
    if sha256(held) != entry["sha256"]:
        raise Refused(f"gauge table {entry['revision']}: other bytes than its digest says")
    for h in data["history"]:
        if (h["jack"], h["act"], h["revision"]) == (entry["jack"], 1, entry["revision"]):
            kept = re.fullmatch(r"key ([0-9a-f]{64}) signature ([0-9a-f]{128})", h["details"])
            if kept is None:
                return None
            if not ed25519.verify(bytes.fromhex(kept[1]), held, bytes.fromhex(kept[2])):
                raise Refused(f"gauge table {entry['revision']}: signature wrong")
            return kept[1]
    return None


def check_instruction(data, entry):
    said = messages.decode("PullInstruction", bytes.fromhex(entry["body"]))
    for r in log_records(data, entry["jack"]):
        pull = messages.decode("Record", r["body"]).get("pull")
        if pull is None or pull["instruction"] != entry["id"]:
            continue
        good = all(said.get(name) == pull.get(name) for name in SAME)
        if not good or any(abs(said.get(a, 0) - pull.get(b, 0)) > 1 for a, b in NEAR):
            raise Refused(f"instruction {entry['id']}: not what record {r['sequence']} says")


def check_entries(data):
    digest = "0" * 64
    for number, e in enumerate(data["entries"], 1):
        if e["number"] != number:
            raise Refused(f"entry {number} is missing")
        if not e["withheld"]:
            fields = [("number", e["number"]), ("kind", e["kind"]), ("at_s", e["at_s"]), ("by", e["by"]),
                      ("device", e["jack"]), ("bed", e["bed"]), ("sequence", e["sequence"]), ("outcome", e["outcome"]),
                      ("records_digest", e["records_digest"]), ("words", e["words"])]  # fmt: skip
            text = b"".join(b"%s:%d:%s\n" % (n.encode(), len(str(v).encode()), str(v).encode()) for n, v in fields)
            if sha256(text) != e["content"]:
                raise Refused(f"entry {number} was changed")
        digest = sha256(f"{digest}\n{e['content']}".encode())
        if digest != e["digest"]:
            raise Refused(f"entry {number} does not follow")
    return digest


def check(text):
    """Everything; Refused at the first thing that does not hold. Else what was seen of each jack."""
    data = load(text)
    for d in data["documents"]:
        if sha256(bytes.fromhex(d["body"])) != d["sha256"]:
            raise Refused(f"kept file {d['name']}: other bytes")
    check_entries(data)
    jacks = [check_jack(data, j) for j in data["jacks"]]
    tables = [check_table(data, t) for t in data["tables"]]
    for i in data["instructions"]:
        check_instruction(data, i)
    return {"jacks": jacks, "table_keys": tables}
