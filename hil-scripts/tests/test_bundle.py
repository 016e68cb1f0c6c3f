"""A bundle over the whole way: a served jack is calibrated and pulls, the host tool packs what it holds, and the file is
checked twice, by the host tool in an empty folder and by Python alone. Then it is changed in every part."""

import json
import re
import sys
import time

import pytest
from yard import ROOT, Jack, Office, built

sys.path.insert(0, str(ROOT / "hil-scripts"))

from strandproof_wire import bundle, messages  # noqa: E402

pytestmark = built


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """An office with one pull of bed 1 in its archive, and its bundle."""
    folder = tmp_path_factory.mktemp("bundle")
    (folder / "jack").mkdir()
    office, jack = Office(folder), Jack(folder / "jack")
    try:
        jack.make_ready(office)
        plan = ROOT / "host-tool" / "bed" / "example-plan.toml"
        assert office.run("bed", "send", plan, "--position", "1", port=jack.link)[0] == 0
        jack.pendant("pull")
        until = time.monotonic() + 20
        while not re.search(r"signed up to record \d+", office.run("log", "show")[1].split("PULL bed 1")[-1]):
            assert office.run("log", "fetch", port=jack.link)[0] == 0
            if time.monotonic() > until:
                break
            time.sleep(0.3)
    finally:
        jack.process.terminate()
        jack.process.wait(10)
    for words, where in (("wedge <cleaned>", ["--bed", "1"]), ("not yours", ["--bed", "7"])):
        assert office.run("archive", "remark", words, "--by", "crew lead", *where)[0] == 0
    answer = office.run("log", "bundle", "--bed", "1", "--tag-keys", "-o", "bundle.html")
    assert answer[0] == 0, answer
    return office, (folder / "bundle.html").read_text(encoding="utf-8")


@pytest.fixture
def stranger(tmp_path):
    """A computer without archive, jack and heads: only the file."""
    return Office(tmp_path)


def verified(office, text, *options):
    (office.folder / "theirs.html").write_text(text, encoding="utf-8")
    return office.run("log", "verify", "theirs.html", *options)


def test_the_file_alone_proves_itself_twice(made, stranger):
    _, text = made
    code, out, err = verified(stranger, text)
    assert code == 0, out + err
    assert "everything in it holds" in out and "made again from the runs in this file" in out, out
    seen = bundle.check(text)
    assert seen["jacks"][0]["checkpoints"] >= 2, seen
    assert seen["table_keys"][0] is not None
    assert "not yours" not in text and "wedge &lt;cleaned&gt;" in text
    key = re.search(r"signed with the jack's key ([0-9a-f ]{19})", out)[1]
    assert verified(stranger, text, "--key", key)[0] == 0
    code, out, _ = verified(stranger, text, "--key", "0000 0000 0000 0000")
    assert code == 1 and "its key is" in out, out


def test_the_same_archive_gives_the_same_bytes(made):
    office, text = made
    assert office.run("log", "bundle", "--bed", "1", "--tag-keys", "-o", "again.html")[0] == 0
    assert (office.folder / "again.html").read_text(encoding="utf-8") == text


def test_wrong_use_gets_one_line(made, stranger):
    office, text = made
    for line, said in (
        (["log", "bundle", "--bed", "9", "-o", "x.html"], "holds no record of what was asked for"),
        (["log", "bundle", "--first", "3", "-o", "x.html"], "give --jack as well"),
        (["log", "bundle", "--jack", "1", "--bed", "1", "-o", "x.html"], "say one of --bed and --jack"),
        (["log", "bundle", "--bed", "1", "-o", "table.json"], "is there already and is not a bundle"),
        (["log", "verify", "table.json"], "is no strandproof bundle"),
        (["log", "verify", "nothing.html"], "can not be read"),
    ):
        code, _, err = office.run(*line)
        assert code in (1, 2) and said in err and err.count("\n") == 1, (line, err)
    code, _, err = verified(stranger, text[: len(text) // 2])
    assert code == 2 and "cut off" in err, err
    assert not (office.folder / "x.html").exists()


def repacked(text, change):
    """The data changed, and the digest on the page with them."""
    at = text.index(bundle.BEGIN) + len(bundle.BEGIN)
    data = json.loads(text[at : -len(bundle.END)])
    change(data)
    lines = []
    for name, value in data.items():
        shown = value
        if isinstance(value, list):
            rows = ",\n".join(json.dumps(row, separators=(",", ":"), ensure_ascii=False) for row in value)
            shown = f"[\n{rows}]" if value else "[]"
        else:
            shown = json.dumps(value, separators=(",", ":"))
        lines.append(f'"{name}":{shown}')
    block = ("{" + ",".join(lines[:4]) + ",\n" + ",\n".join(lines[4:]) + "}").replace("<", "\\u003c")
    page = re.sub(r'(id="data-sha256">)[0-9a-f]{64}', lambda m: m[1] + bundle.sha256(block.encode()), text[:at])
    return page + block + bundle.END


def flip(record):
    record["body"] = record["body"][:8] + ("0" if record["body"][8] != "0" else "1") + record["body"][9:]


def other_force(instruction):
    said = messages.decode("PullInstruction", bytes.fromhex(instruction["body"]))
    said["jack_n"] += 1000
    instruction["body"] = messages.encode("PullInstruction", said).hex()


CHANGES = {
    "record changed": (lambda d: flip(d["records"][3]), "record 4: changed"),
    "record taken out": (lambda d: d["records"].pop(3), "record 5: "),
    "time changed": (lambda d: d["records"][3].update(tick_ms=1), "record 4: changed"),
    "head changed": (lambda d: d["jacks"][0]["head"].update(link="00" * 32), "head"),
    "table changed": (lambda d: d["tables"][0].update(sha256="00" * 32), "gauge table"),
    "plan changed": (lambda d: d["documents"][0].update(body="00"), "kept file"),
    "instruction changed": (lambda d: other_force(d["instructions"][0]), "instruction 1"),
    "remark changed": (lambda d: d["entries"][0].update(words="nothing"), "entry 1 was changed"),
    "entry taken out": (lambda d: d["entries"].pop(0), "entry 1 is missing"),
}


@pytest.mark.parametrize("name", CHANGES)
def test_every_change_of_the_data_is_found_by_both(made, stranger, name):
    _, text = made
    change, said = CHANGES[name]
    theirs = repacked(text, change)
    code, out, err = verified(stranger, theirs)
    assert code == 1 and said in out, (out, err)
    with pytest.raises(bundle.Refused):
        bundle.check(theirs)


def test_repacking_without_a_change_is_the_same_file(made):
    _, text = made
    assert repacked(text, lambda d: None) == text


def test_a_changed_page_is_found(made, stranger):
    _, text = made
    code, out, _ = verified(stranger, text.replace("WITHIN LIMITS", "WITHIN LlMITS", 1))
    assert code == 1 and "readable part: line" in out, out
