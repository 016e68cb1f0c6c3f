"""Leftovers and lengths: no open ends, no disabled tests, no asserts that vanish, files of readable length."""

import re

from tree import Finding

NAME = "prose"
WHAT = "no open ends, no disabled tests, no assert(), no file too long to read"

TEXTS = (".cpp", ".hpp", ".c", ".h", ".py", ".sh", ".md", ".cmake", ".proto", ".def", ".toml", ".json", ".txt", ".html")
CODE = (".cpp", ".hpp", ".py")
# Written in two halves, so that this file does not find itself.
OPEN_END = re.compile(r"\b(?:TO" + r"DO|FIX" + r"ME|XX" + r"X|HA" + r"CK)\b")
DISABLED = re.compile(r"\bDISABLED_\w|\bGTEST_SKIP\b|pytest\.mark\.skip\b|pytest\.mark\.xfail\b")
VANISHING = re.compile(r"(?<![\w_])assert\s*\(|<cassert>|<assert\.h>")
NOTE_LENGTH = 250  # a longer file is named
MOST_LINES = 400   # a longer file is refused
PEDANTS = "tests/house/"


def line_findings(path, number, line):
    if OPEN_END.search(line):
        yield Finding(path, number, "an open end; do it, or file an issue")
    if path.startswith("tests/") and not path.startswith(PEDANTS) and DISABLED.search(line):
        yield Finding(path, number, "a test that does not run proves nothing; mend it or delete it")
    if path.endswith((".cpp", ".hpp")) and VANISHING.search(line.split("//")[0]):
        yield Finding(path, number, "assert() vanishes in release; use the house's always-on check")


def check(tree):
    findings = []
    for path in tree.match(suffixes=TEXTS):
        for number, line in tree.lines(path):
            findings += line_findings(path, number, line)
        length = len(tree.text(path).splitlines())
        if path.endswith(CODE) and length > MOST_LINES:
            findings.append(Finding(path, length, f"{length} lines; split it (at most {MOST_LINES})"))
    return findings


def notes(tree):
    """Files that are long, not too long."""
    for path in tree.match(suffixes=CODE):
        length = len(tree.text(path).splitlines())
        if NOTE_LENGTH < length <= MOST_LINES:
            yield f"{path}: {length} lines, more than the {NOTE_LENGTH} that read well"
