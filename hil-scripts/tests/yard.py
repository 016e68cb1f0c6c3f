"""What the tests of the whole way share: a computer with the host tool on it, and a simulated jack with a person.

STRANDPROOF_BUILD names the folder of the build; without it, build/release is taken.
"""

import os
import pathlib
import subprocess
import time

import pytest

ROOT = pathlib.Path(__file__).resolve().parents[2]
BUILD = pathlib.Path(os.environ.get("STRANDPROOF_BUILD", ROOT / "build" / "release"))
SIM, HOST = BUILD / "sim/main/strandproof-sim", BUILD / "host-tool/strandproof"
built = pytest.mark.skipif(not (SIM.exists() and HOST.exists()), reason=f"{BUILD}: not built")


class Office:
    """A computer with its own keys and archive. Every answer: (exit code, standard output, standard error)."""

    def __init__(self, folder):
        self.folder, self.archive = folder, folder / "archive.sqlite"
        self.common = ["--archive", self.archive, "--keys", folder / "keys"]
        assert self.run("key", "new")[0] == 0

    def make_table_key(self):
        passphrase = self.folder / "passphrase"
        passphrase.write_text("a passphrase of these tests\n", encoding="ascii")
        passphrase.chmod(0o600)
        os.environ["STRANDPROOF_PASSPHRASE_FILE"] = str(passphrase)
        answer = self.run("key", "table-new", "--name", "tests")
        assert answer[0] == 0, answer

    def start(self, *arguments, port=None, **options):
        line = [HOST, *self.common, *(["--port", port] if port else []), *arguments]
        return subprocess.Popen([str(part) for part in line], stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                                stdin=subprocess.DEVNULL, text=True, cwd=self.folder, **options)  # fmt: skip

    def run(self, *arguments, port=None, **options):
        process = self.start(*arguments, port=port, **options)
        out, err = process.communicate(timeout=60)
        return process.returncode, out, err


class Jack:
    """A served jack and the person at its pendant."""

    def __init__(self, folder, terminal=None):
        self.link, self.channel = folder / "jack", folder / "jack.operator"
        quiet = ["--quiet"] if terminal is None else []
        self.process = subprocess.Popen([SIM, "serve", "--link", self.link, "--speed", "10", *quiet],
                                        stdin=terminal or subprocess.DEVNULL, stdout=terminal)  # fmt: skip
        until = time.monotonic() + 20
        while not (self.link.exists() and self.channel.exists()):
            assert self.process.poll() is None and time.monotonic() < until, "the simulated jack did not start"
            time.sleep(0.02)

    def pendant(self, *commands):
        answered = subprocess.run([SIM, "operate", "--operator", self.channel, *commands], capture_output=True,
                                  text=True, timeout=60)  # fmt: skip
        assert answered.returncode == 0, answered
        return answered.stdout

    def agree(self, office, entry, *command, port=None):
        """The host asks, the person compares what both show, and confirms at the pendant."""
        self.pendant(entry)
        asking = office.start(*command, port=port or self.link)
        shown = next((line for line in asking.stdout if "must show" in line), None)
        assert shown, asking.stderr.read()
        digits = shown.split(";")[0].split(" show ")[1].split('"')[-1].strip()
        until = time.monotonic() + 20  # the jack draws when the request has reached it
        while digits not in self.pendant("display"):
            assert time.monotonic() < until, shown
        self.pendant("press confirm")
        assert asking.wait(30) == 0, asking.stderr.read()
        self.pendant("menu-pull")

    def pair(self, office, port=None):
        self.agree(office, "pair", "pair", port=port)

    def enrol(self, office, port=None):
        office.make_table_key()
        self.agree(office, "enrol-table-key", "key", "enrol", port=port)

    def make_ready(self, office):
        """Paired, with the clock set and the table that its rig gives."""
        self.pair(office)
        self.enrol(office)
        subprocess.run([SIM, "rig", "-o", office.folder / "runs.csv"], check=True, capture_output=True, timeout=120)
        for line in (["clock", "set"], ["gauge", "fit", "runs.csv", "-o", "table.json"], ["gauge", "load", "table.json"]):
            answer = office.run(*line, port=self.link)
            assert answer[0] == 0, answer
