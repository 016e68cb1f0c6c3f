"""Fetching through the host tool, against a served jack: two copies, the live tail over a lost line and a jack that was
off, and what is said of what is left to do."""

import json
import shutil
import signal
import subprocess
import time

import pytest
from yard import HOST, SIM, Jack, Office, built

pytestmark = built


class KeptJack(Jack):
    """Its memory outlasts its process."""

    def __init__(self, folder):
        self.folder, self.link, self.channel = folder, folder / "jack", folder / "jack.operator"
        self.switch_on()

    def switch_on(self):
        line = [SIM, "serve", "--link", self.link, "--speed", "10", "--quiet", "--flash", self.folder / "flash.bin"]
        self.process = subprocess.Popen([str(part) for part in line], stdin=subprocess.DEVNULL)
        until = time.monotonic() + 20
        while not (self.link.exists() and self.channel.exists()):
            assert self.process.poll() is None and time.monotonic() < until, "the simulated jack did not start"
            time.sleep(0.02)

    def switch_off(self):
        self.process.terminate()
        self.process.wait(10)


@pytest.fixture
def office(tmp_path):
    return Office(tmp_path)


@pytest.fixture
def jack(tmp_path):
    (tmp_path / "yard").mkdir()
    served = KeptJack(tmp_path / "yard")
    yield served
    served.switch_off()


def wait_for(what, seconds=40):
    until = time.monotonic() + seconds
    while not what():
        assert time.monotonic() < until, "it did not come"
        time.sleep(0.1)


def copies(office, jack):
    code, out, err = office.run("--json", "log", "copies", port=jack.link)
    assert code == 0, err
    return json.loads(out)


def test_a_backup_makes_the_second_copy(office, jack, tmp_path):
    jack.pair(office)
    code, out, err = office.run("log", "fetch", port=jack.link)
    assert code == 0, err
    assert "1 of 2 copies: fetch into a second archive too" in out
    assert office.run("archive", "backup", "-o", "copy.sqlite")[0] == 0
    office.common[1] = tmp_path / "copy.sqlite"
    assert office.run("archive", "name", "disk in the safe")[0] == 0
    code, out, err = office.run("log", "fetch", port=jack.link)
    assert code == 0, err
    known = copies(office, jack)
    assert known["needed"] == 2
    assert [c["name"] for c in known["copies"]][1] == "disk in the safe"
    assert known["copies"][0]["id"] != known["copies"][1]["id"]
    office.common[1] = office.archive
    jack.pendant("forget-copy 2", "change-copies-needed")
    known = copies(office, jack)
    assert known["needed"] == 1 and len(known["copies"]) == 1
    code, out, err = office.run("log", "fetch", port=jack.link)
    assert code == 0 and "copies:" not in out, out + err
    assert "copies of the log, at the pendant" in office.run("log", "show")[1]


def test_a_file_that_was_copied_back_is_named_and_the_way_out_leads_to_all_records(office, jack, tmp_path):
    jack.pair(office)
    assert office.run("log", "fetch", port=jack.link)[0] == 0
    shutil.copy(office.archive, tmp_path / "yesterday.sqlite")
    jack.pendant("press confirm")  # PULL without a table: refused, and on record
    assert office.run("log", "fetch", port=jack.link)[0] == 0
    told = copies(office, jack)["copies"][0]["up_to"]
    shutil.copy(tmp_path / "yesterday.sqlite", office.archive)
    for command in (["log", "fetch"], ["log", "tail"], ["log", "copies"], ["log", "fetch"]):
        code, out, err = office.run(*command, port=jack.link)
        assert code == 1 and "is an older copy" in err and f"up to {told}" in err, (command, out, err)
        assert "'archive backup -o NEW.sqlite'" in err and 'forget "' in err
    assert len(office.run("--json", "log", "show")[1].splitlines()) < told, "it can be read, and nothing came into it"
    assert office.run("archive", "backup", "-o", "NEW.sqlite")[0] == 0
    office.common[1] = tmp_path / "NEW.sqlite"
    assert office.run("log", "fetch", port=jack.link)[0] == 0
    jack.pendant("forget-copy 1")
    known = copies(office, jack)
    assert len(known["copies"]) == 1 and known["copies"][0]["up_to"] >= told
    assert office.run("log", "verify")[0] == 0


def test_the_tail_follows_over_a_jack_that_was_off_and_loses_nothing(office, jack, tmp_path):
    jack.pair(office)
    log = (tmp_path / "tail.txt").open("w", encoding="utf-8")
    line = [str(part) for part in (HOST, *office.common, "--port", jack.link, "log", "tail")]
    tail = subprocess.Popen(line, stdout=log, stderr=log, stdin=subprocess.DEVNULL, cwd=tmp_path)
    shown = (tmp_path / "tail.txt").read_text
    try:
        wait_for(lambda: "host paired" in shown(encoding="utf-8"))
        jack.pendant("press confirm")  # PULL without a table: refused, and on record
        wait_for(lambda: "refused at the pendant" in shown(encoding="utf-8"))
        jack.switch_off()
        wait_for(lambda: "line lost" in shown(encoding="utf-8"))
        jack.switch_on()
        wait_for(lambda: "boot 2" in shown(encoding="utf-8"))
        tail.send_signal(signal.SIGINT)
        assert tail.wait(30) == 0, shown(encoding="utf-8")
    finally:
        tail.kill()
        log.close()
    numbers = [int(row.split()[0]) for row in shown(encoding="utf-8").splitlines() if " boot " in row]
    assert numbers == sorted(set(numbers)), "each record once, in order"
    held = [json.loads(row)["sequence"] for row in office.run("--json", "log", "show")[1].splitlines()]
    assert numbers == held, "what was shown is what is held"
    assert office.run("log", "verify")[0] == 0
    known = copies(office, jack)
    assert known["copies"][0]["up_to"] == held[-1], "acknowledged at its end"


def follow(office, jack, until_shown):
    """`log tail` until this was shown, then Ctrl-C: what it said on either side."""
    with (office.folder / "out.txt").open("w", encoding="utf-8") as out, \
         (office.folder / "err.txt").open("w", encoding="utf-8") as err:  # fmt: skip
        line = [str(part) for part in (HOST, *office.common, "--port", jack.link, "log", "tail")]
        tail = subprocess.Popen(line, stdout=out, stderr=err, stdin=subprocess.DEVNULL, cwd=office.folder)
        try:
            wait_for(lambda: until_shown in (office.folder / "out.txt").read_text(encoding="utf-8"))
            time.sleep(1)  # it has asked again, and has nothing to repeat
            tail.send_signal(signal.SIGINT)
            assert tail.wait(30) == 0
        finally:
            tail.kill()
    return [(office.folder / name).read_text(encoding="utf-8") for name in ("out.txt", "err.txt")]


def test_the_tail_of_a_full_list_holds_the_records_and_says_once_what_to_do(office, jack, tmp_path):
    jack.pair(office)
    for number in range(4):
        office.common[1] = tmp_path / f"copy-{number}.sqlite"
        assert office.run("log", "fetch", port=jack.link)[0] == 0
    office.common[1] = tmp_path / "fifth.sqlite"
    out, err = follow(office, jack, "refused over the link")
    assert err.splitlines() == [
        "this archive does not count as a copy: the jack names four others; forget a lost one at the pendant (COPIES OF THE "
        "LOG), then fetch again"
    ]
    shown = [row for row in out.splitlines() if " boot " in row]
    assert sum("refused over the link" in row for row in shown) == 1, "asked once: each try is an event in its log"
    held = office.run("--json", "log", "show")[1].splitlines()
    assert len(shown) == len(held) == json.loads(held[-1])["sequence"], "held all the same, from the first on"
    last = [row for row in out.splitlines() if " boot " not in row]
    assert last[0].startswith(f"jack 4711: {len(held)} new records; the archive holds up to record {len(held)}; the jack has")
    assert "fifth" not in json.dumps(copies(office, jack))
    jack.pendant("forget-copy 1")
    out, err = follow(office, jack, "copies of the log, at the pendant")
    assert err == "", "there is room for it now"
    assert [c["name"].split(":")[1] for c in copies(office, jack)["copies"]].count("fifth") == 1


def test_the_tail_of_a_computer_that_is_not_paired_says_so_once(office, jack):
    out, err = follow(office, jack, "power on")
    assert err.splitlines() == ["this archive does not count as a copy: the jack does not know this computer; pair it "
                                "('pair'), then fetch again"]  # fmt: skip
    assert "0 of 2 copies" in out.splitlines()[-1]
    assert copies(office, jack)["copies"] == []


def test_the_tail_ends_while_the_line_is_away(office, jack, tmp_path):
    jack.pair(office)
    tail = office.start("log", "tail", port=jack.link)
    try:
        assert "power on" in tail.stdout.readline()
        jack.switch_off()
        time.sleep(1.0)
        tail.send_signal(signal.SIGINT)
        assert tail.wait(10) == 0
    finally:
        tail.kill()
        jack.switch_on()
    assert office.run("log", "verify")[0] == 0
