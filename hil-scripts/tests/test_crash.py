"""The host tool is killed at each write, flush, rename and deletion of what it does to a file, and at each the file is
whole or not there. (What the loss of power leaves of an archive is the matter of tests/host/archive_crash_test.cpp.)
"""

import re
import shutil
import subprocess

import pytest
from yard import HOST, Office, built

pytestmark = [built, pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not installed")]

STEPS = {"write": 1, "pwrite64": 3, "ftruncate": 1, "fsync": 1, "fdatasync": 1, "rename": 1, "unlink": 1}  # each n-th
KILLED = (-9, 137)


class Traced:
    """Commands of the host tool in one folder, seen or killed by strace."""

    def __init__(self, folder):
        self.folder, self.log = folder, folder.parent / "steps"

    def run(self, *line, strace=(), archive="a.sqlite"):
        command = [*strace, HOST, "--archive", archive, "--keys", "keys", *line]
        done = subprocess.run([str(part) for part in command], capture_output=True, text=True, timeout=60,
                              cwd=self.folder, stdin=subprocess.DEVNULL)  # fmt: skip
        return done.returncode, done.stdout, done.stderr

    def seen(self, *line):
        code, _, err = self.run(*line, strace=["strace", "-f", "-y", "-e", "trace=fsync,rename", "-o", self.log])
        assert code == 0, err
        return self.log.read_text(encoding="utf-8", errors="replace").splitlines()

    def kills(self, *line):
        """The command, killed at its first such step, then at a later one, until it comes through, for each step. After
        each kill: which; None when it came through."""
        for step, stride in STEPS.items():
            for number in range(1, 1000, stride):
                inject = ["-e", f"trace={step}", "-e", f"inject={step}:signal=KILL:when={number}"]
                code, _, err = self.run(*line, strace=["strace", "-f", *inject, "-o", self.log])
                if code not in KILLED:
                    assert code == 0, err
                    yield None
                    break
                yield f"{step} {number}"


@pytest.fixture
def at(tmp_path):
    (tmp_path / "office").mkdir()
    return Traced(tmp_path / "office")


def entries(at, archive="a.sqlite"):
    code, out, err = at.run("archive", "entries", archive=archive)
    assert code == 0, err
    return out


def test_a_backup_that_is_killed_is_whole_or_not_there(at):
    for words in ("bed swept", "strand of reel 7 looked at"):
        assert at.run("archive", "remark", words, "--by", "crew lead")[0] == 0
    expected, killed, whole = entries(at), 0, 0
    assert expected.count("remark") == 2
    backup = at.folder / "b.sqlite"
    for step in at.kills("archive", "backup", "-o", "b.sqlite"):
        killed += step is not None
        if step is None or backup.exists():
            assert entries(at, "b.sqlite") == expected, step
            backup.unlink()
            whole += step is not None
        assert entries(at) == expected, step
    assert killed > 40 and whole >= 2, (killed, whole)
    assert {path.name for path in at.folder.iterdir()} == {"a.sqlite"}, "an attempt cleans up behind the one before it"


def test_a_key_that_is_killed_is_whole_or_not_there(at):
    killed = 0
    for step in at.kills("key", "new", "--name", "yard office"):
        killed += step is not None
        shown = at.run("key", "show")
        if "yard office" not in shown[1]:
            assert step is not None and at.run("key", "new", "--name", "yard office")[0] == 0, (step, shown)
            assert "yard office" in at.run("key", "show")[1]
        shutil.rmtree(at.folder / "keys")
    assert killed >= 3


def test_a_name_is_on_the_disk_after_its_bytes_and_before_the_command_ends(at):
    for line in (["key", "new", "--name", "yard office"], ["archive", "backup", "-o", "b.sqlite"]):
        steps = at.seen(*line)
        renamed = [n for n, step in enumerate(steps) if "rename(" in step]
        assert renamed, steps
        for n in renamed:
            beside, place = re.search(r'rename\("([^"]+)", "([^"]+)"\)', steps[n]).groups()
            folder = (at.folder / place).parent
            assert any(f"<{at.folder / beside}>" in step for step in steps[:n] if "fsync(" in step), steps
            assert any(f"<{folder}>" in step for step in steps[n:] if "fsync(" in step), steps
