"""The chain of the log through the host tool, against a served jack: a fetch holds the head, an archive that was changed
is named by record, a memory that was renewed is refused, a controller that was replaced is accepted by a person."""

import re
import sqlite3
import time

import pytest
from yard import Jack, Office, built

pytestmark = built


@pytest.fixture
def office(tmp_path):
    return Office(tmp_path)


def served(folder):
    folder.mkdir()
    return Jack(folder)


def ended(jack):
    jack.process.terminate()
    jack.process.wait(10)


def fetched(office, jack):
    """Fetches until the pairing's checkpoint is there: the jack signs at rest, within a second."""
    until = time.monotonic() + 30
    while True:
        answer = office.run("log", "fetch", port=jack.link)
        assert answer[0] == 0, answer
        if "checkpoint" in office.run("log", "show")[1].splitlines()[-1]:
            return
        assert time.monotonic() < until, "no checkpoint"
        time.sleep(0.2)


def change_archive(office, sql):
    with sqlite3.connect(office.archive) as kept:
        for (name,) in kept.execute("select name from sqlite_master where type = 'trigger'").fetchall():
            kept.execute(f"drop trigger {name}")
        kept.execute(sql)


def test_a_fetch_holds_the_head_and_every_change_of_the_archive_is_named(office, tmp_path):
    jack = served(tmp_path / "yard")
    try:
        jack.pair(office)
        fetched(office, jack)
        assert office.run("clock", "set", port=jack.link)[0] == 0
        assert office.run("log", "fetch", port=jack.link)[0] == 0
    finally:
        ended(jack)
    code, out, _ = office.run("log", "verify")
    assert code == 0 and re.search(r"held up to record \d+, head", out), out
    assert int(re.search(r"(\d+) tags checked", out)[1]) >= 1, out
    last = int(re.search(r"held up to record (\d+)", out)[1])
    whole = office.archive.read_bytes()

    change_archive(office, "update record set body_hex = replace(body_hex, substr(body_hex, 1, 6), '0a0208') where sequence = 2")
    code, out, _ = office.run("log", "verify")
    assert code == 1 and "record 2: changed" in out, out

    office.archive.write_bytes(whole)
    change_archive(office, "delete from record where sequence = 3")
    code, out, _ = office.run("log", "verify")
    assert code == 1 and "record 4: records missing" in out, out

    office.archive.write_bytes(whole)
    change_archive(office, f"delete from record where sequence = {last}")
    code, out, _ = office.run("log", "verify")
    assert code == 1 and f"record {last - 1}: log cut off" in out, out


def test_a_renewed_memory_is_refused_until_a_person_accepts_it(office, tmp_path):
    old = served(tmp_path / "old")
    try:
        old.pair(office)
        fetched(office, old)
    finally:
        ended(old)
    new = served(tmp_path / "new")
    try:
        new.pair(office)
        office.common[1] = tmp_path / "second.sqlite"  # as the remedy says: an archive of its own
        code, _, err = office.run("log", "fetch", port=new.link)
        assert code == 1 and "does not extend the one that is held" in err, err
        assert office.run("log", "show")[1] == "", "nothing of it may be stored"
        by = ["--by", "technician", "--why", "controller burnt"]
        until = time.monotonic() + 30
        while "no signed checkpoint yet" in (answer := office.run("log", "accept", *by, port=new.link))[2]:
            assert time.monotonic() < until, answer
            time.sleep(0.2)
        code, out, err = answer
        assert code == 1 and "key held" in out and "nothing is accepted" in err, out + err
        key = re.search(r"key of this controller ([0-9a-f ]{19})", out)[1]
        assert office.run("log", "accept", *by, "--accept", "0000 0000 0000 0000", port=new.link)[0] == 1
        code, out, err = office.run("log", "accept", *by, "--accept", key, port=new.link)
        assert code == 0, err
        assert office.run("log", "fetch", port=new.link)[0] == 0
    finally:
        ended(new)
    assert office.run("log", "verify")[0] == 0
    entries = office.run("archive", "entries")[1]
    assert "controller enrolled" in entries and "controller burnt" in entries, entries

