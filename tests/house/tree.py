"""The files that the house's checks look at, and what a finding is."""

import dataclasses
import pathlib
import subprocess

FIXTURES = "tests/house/fixtures/"
SKIPPED_FOLDERS = ("build/", "out/", ".git/")


@dataclasses.dataclass(frozen=True)
class Finding:
    """One broken rule: where, what is wrong, and what to do about it."""

    path: str
    line: int
    what: str

    def __str__(self):
        return f"{self.path}:{self.line}: {self.what}"


class Tree:
    """A root folder and the files in it that are ours: tracked, or new and not ignored."""

    def __init__(self, root):
        self.root = pathlib.Path(root).resolve()
        self.paths = sorted(p for p in self._list() if not p.startswith(FIXTURES))
        self.looked_at = 0  # files that rules have read; a rule that read none has proven nothing
        self._texts = {}

    def _list(self):
        if (self.root / ".git").exists():
            command = ["git", "-C", str(self.root), "ls-files", "-co", "--exclude-standard"]
            listed = subprocess.run(command, check=True, capture_output=True, text=True).stdout.splitlines()
            return [p for p in listed if (self.root / p).is_file()]
        every = (p.relative_to(self.root).as_posix() for p in self.root.rglob("*") if p.is_file())
        return [p for p in every if not p.startswith(SKIPPED_FOLDERS) and "__pycache__" not in p]

    def match(self, folders=("",), suffixes=("",), names=()):
        """Paths under one of the folders that end in one of the suffixes, or have one of the names."""
        for path in self.paths:
            name = path.rsplit("/", 1)[-1]
            if path.startswith(tuple(folders)) and (path.endswith(tuple(suffixes)) or name in names):
                yield path

    def text(self, path):
        """The text of a file, or '' if it is not text."""
        if path not in self._texts:
            self.looked_at += 1
            try:
                self._texts[path] = (self.root / path).read_text(encoding="utf-8")
            except UnicodeDecodeError:
                self._texts[path] = ""
        return self._texts[path]

    def lines(self, path):
        """(line number from 1, text) of a file."""
        return enumerate(self.text(path).splitlines(), start=1)
