"""Every live hazard row has a test that names it, a sabotage that disarms it, and a place in the safety text."""

import re

from rules import catalogue
from tree import Finding

NAME = "hazards"
WHAT = "each live hazard row is named by a test, by a sabotage and by firmware/README.md"

LIST = "tests/house/live_hazards.txt"
SAFETY_TEXT = "firmware/README.md"
ID = re.compile(r"\bH(\d\d)\b")
RANGE = re.compile(r"\bH(\d\d)\s*(?:to|-)\s*H(\d\d)\b")
CASE = re.compile(r"^\s*(?:TEST|TEST_F|TEST_P|TYPED_TEST|RC_GTEST_PROP)\(\s*(\w+),\s*(\w+)|^def (test_\w+)")


def ids_in(text):
    found = {f"H{n}" for n in ID.findall(text)}
    for first, last in RANGE.findall(text):
        found |= {f"H{n:02d}" for n in range(int(first), int(last) + 1)}
    return found


def live(tree):
    """Rows that are live: every CAUSE below 100, and those of the list that need no cause of their own."""
    ids = {f"H{code:02d}" for _, kind, code, _, _ in catalogue.rows(tree) if kind == "CAUSE" and 0 < code < 100}
    for _, line in tree.lines(LIST):
        ids |= ids_in(line.split("#")[0])
    return sorted(ids)


def cases_naming(tree):
    """hazard id -> test cases that name it, in their comment, their name or their body."""
    named = {}
    for path in tree.match(("tests/", "hil-scripts/"), (".cpp", ".py")):
        if path.startswith("tests/house/"):
            continue
        case, waiting = None, set()
        for _, line in tree.lines(path):
            found = CASE.match(line)
            if found:
                case = found.group(3) or f"{found.group(1)}.{found.group(2)}"
            here = ids_in(line) | ids_in(case.replace("_", " ") if found else "")
            here |= {f"H{n}" for n in re.findall(r"H(\d\d)(?=[A-Z_])", case)} if found else set()
            if line.startswith(("//", "#")) and not found:
                waiting |= here  # a comment at the margin speaks of the next case
                continue
            if case:
                for hazard in here | (waiting if found else set()):
                    named.setdefault(hazard, set()).add(case)
            if found:
                waiting = set()
    return named


def sabotages(tree):
    """hazard id -> sabotage patches that disarm it."""
    named = {}
    for path in tree.match(("tests/sabotage/",), (".patch",)):
        for _, line in tree.lines(path):
            if line.startswith("# hazard:"):
                for hazard in ids_in(line):
                    named.setdefault(hazard, set()).add(path.rsplit("/", 1)[-1].removesuffix(".patch"))
    return named


def matrix(tree):
    """Lines of the matrix hazard, test cases, sabotages."""
    tests, broken = cases_naming(tree), sabotages(tree)
    for hazard in live(tree):
        cases = sorted(tests.get(hazard, ()))
        shown = ", ".join(cases[:3]) + (f" and {len(cases) - 3} more" if len(cases) > 3 else "")
        yield f"{hazard}  tests: {shown or 'NONE'}  sabotage: {', '.join(sorted(broken.get(hazard, ()))) or 'NONE'}"


def check(tree):
    if LIST not in tree.paths:
        return [Finding(LIST, 1, "the list of live hazards is missing")]
    findings = []
    tests, broken = cases_naming(tree), sabotages(tree)
    safety = ids_in(tree.text(SAFETY_TEXT)) if SAFETY_TEXT in tree.paths else set()
    for hazard in live(tree):
        if hazard not in tests:
            findings.append(Finding(LIST, 1, f"{hazard} is live, but no test names it"))
        if hazard not in broken:
            findings.append(Finding(LIST, 1, f"{hazard} is live, but no sabotage has '# hazard: {hazard}'"))
        if hazard not in safety:
            findings.append(Finding(SAFETY_TEXT, 1, f"{hazard} is live, but the safety text does not name it"))
    return findings
