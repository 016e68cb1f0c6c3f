"""A whole pull at the keyboard pendant: what a person reads on the four lines, and what the keys do."""

import os
import re
import threading
import time

import pytest
from yard import ROOT, Jack, Office, built

pytestmark = built
ROWS = 4  # of the display; what the hands hold stands below


class Keyboard:
    """A person at the terminal in which `serve` runs: sees the last picture, presses keys."""

    def __init__(self):
        self.person, self.program = os.openpty()
        self.text = bytearray()
        threading.Thread(target=self.look, daemon=True).start()

    def look(self):
        try:
            while part := os.read(self.person, 4096):
                self.text += part
        except OSError:  # the program has ended
            pass

    def rows(self):
        found = re.findall(r"\| (.{40}) \|\r?\n", self.text.decode(errors="replace"))
        return [row.rstrip() for row in found[-ROWS:]] if len(found) % ROWS == 0 else self.rows_later()

    def rows_later(self):  # in the midst of a picture
        time.sleep(0.05)
        return self.rows()

    def hands(self):
        return re.findall(r"hands: (.*?)\r?\n", "hands: not drawn yet\n" + self.text.decode(errors="replace"))[-1]

    def until(self, *wanted, seconds=60):
        """Until one of the texts stands on the display; which."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            seen = "\n".join([*self.rows(), self.hands()])
            for text in wanted:
                if text in seen:
                    return text
            time.sleep(0.05)
        raise AssertionError(f"none of {wanted} on the display: {self.rows()}")

    def press(self, key):
        os.write(self.person, key.encode())
        time.sleep(0.15)

    def choose(self, entry):
        for _ in range(12):
            if self.rows()[1] == f"IDLE > {entry}":
                return
            self.press("s")
        raise AssertionError(f"{entry} is not in the menu: {self.rows()}")


@pytest.fixture
def keyboard():
    sits = Keyboard()
    yield sits
    os.close(sits.program)


def test_a_whole_pull_by_keys(tmp_path, keyboard):
    office, jack = Office(tmp_path), Jack(tmp_path, keyboard.program)
    keyboard.until("IDLE > PULL")
    assert "keys: e enables (both)" in keyboard.text.decode()
    assert keyboard.rows()[0] == "NO LOAD"
    jack.make_ready(office)
    assert office.run("bed", "send", ROOT / "host-tool/bed/example-plan.toml", "--position", "1", port=jack.link)[0] == 0
    keyboard.choose("PULL")
    while keyboard.until("READY", "CONFIRM") == "CONFIRM":
        keyboard.press("c")
    keyboard.press("e")
    keyboard.until("enables")
    keyboard.press("a")
    keyboard.until("enables, advance")
    keyboard.until("MAIN PULL")
    keyboard.press(" ")  # letting go stops
    keyboard.until("nothing held")
    keyboard.until("STOPPED")
    assert "LOAD ON JACK" in keyboard.rows()[0], "what is loaded stands first"
    keyboard.press("r")
    keyboard.until("GO ON: HOLD ENABLES AND ADVANCE")
    keyboard.press("c")
    keyboard.press("e")
    keyboard.press("a")
    keyboard.until("SETTLE")
    keyboard.until("CONFIRM TO SEAT")
    keyboard.press("c")
    keyboard.until("ENDED", seconds=90)
    keyboard.press(" ")
    assert "WITHIN LIMITS" in "\n".join(keyboard.rows())
    assert "LOAD ON CHUCK" in keyboard.rows()[0]
    keyboard.press("r")
    keyboard.until("IDLE > PULL")
    keyboard.press("q")
    assert jack.process.wait(10) == 0 and not jack.link.is_symlink()
