#!/usr/bin/python3
"""Counts the cases of a JUnit file and compares them with the pinned number of their suite.

    tally.py SUITE JUNIT     prints 'passed failed' on one line; names failures and a wrong count on stderr

A suite that ran fewer cases than pinned has lost tests without a word (a program that was not built, a
filter that matches nothing, a discovery that failed), so the number in tests/counts.txt is exact.
"""

import pathlib
import sys
import xml.etree.ElementTree as ElementTree

COUNTS = pathlib.Path(__file__).resolve().parent / "counts.txt"


def pinned(suite):
    for line in COUNTS.read_text().splitlines():
        name, _, number = line.split("#")[0].strip().partition(" ")
        if name == suite:
            return int(number)
    return None


def passed(case):
    """True for a case that ran and passed: ctest writes a status, pytest an element for what went wrong."""
    wrong = [child.tag for child in case if child.tag in ("failure", "error", "skipped")]
    return not wrong and case.get("status", "run") == "run"


def main():
    suite, junit = sys.argv[1], pathlib.Path(sys.argv[2])
    cases = list(ElementTree.parse(junit).getroot().iter("testcase")) if junit.exists() else []
    bad = [c for c in cases if not passed(c)]
    for case in bad:
        print(f"FAILED {suite}: {case.get('classname', '')} {case.get('name')}", file=sys.stderr)
    failed = len(bad)
    if len(cases) != pinned(suite):
        failed += 1
        print(f"FAILED {suite}: {len(cases)} cases ran, tests/counts.txt says {pinned(suite)}; if a case was added or "
              f"removed on purpose, change the number there", file=sys.stderr)
    print(len(cases) - len(bad), failed)


if __name__ == "__main__":
    main()
