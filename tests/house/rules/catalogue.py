"""The catalogue of texts: codes and names unique, ASCII, and every display text fits its line."""

import re

from tree import Finding

NAME = "catalogue"
WHAT = "codes and names unique, display texts ASCII and at most 40 characters"

PATH = "proto/catalogue.def"
DISPLAY_LIMIT = 40  # characters of one line of the pendant's display
ROW = re.compile(r"^(STATE|LOAD|CAUSE|VERDICT|REFUSAL|EVENT|TABLE|REASON|PART)\((\d+),\s*(\w+)((?:,\s*\"[^\"]*\")+)\)\s*$")
STARTS_A_ROW = re.compile(r"^(STATE|LOAD|CAUSE|VERDICT|REFUSAL|EVENT|TABLE|REASON|PART)\(")
TEXT = re.compile(r'"([^"]*)"')
# How many texts a row has, and how many of them, from the first, go to the display.
TEXTS = {"STATE": (1, 1), "LOAD": (1, 1), "CAUSE": (2, 2), "VERDICT": (1, 1), "REFUSAL": (2, 1), "EVENT": (2, 0),
         "TABLE": (1, 1), "REASON": (1, 1), "PART": (1, 1)}  # fmt: skip


def rows(tree):
    """(line number, kind, code, identifier, texts) of each row that can be read."""
    for number, line in tree.lines(PATH):
        found = ROW.match(line)
        if found:
            yield number, found.group(1), int(found.group(2)), found.group(3), TEXT.findall(found.group(4))


def check_row(number, kind, texts):
    count, shown = TEXTS[kind]
    if len(texts) != count:
        yield Finding(PATH, number, f"a {kind} row has {count} text(s), this one {len(texts)}")
    for text in texts[:shown]:
        if len(text) > DISPLAY_LIMIT:
            yield Finding(PATH, number, f"'{text}' has {len(text)} characters; the display line has {DISPLAY_LIMIT}")
    for text in texts:
        if not text.isascii():
            yield Finding(PATH, number, f"'{text}' is not ASCII; the display has no other letters")


def check(tree):
    if PATH not in tree.paths:
        return [Finding(PATH, 1, "the catalogue is missing")]
    findings, codes, names = [], {}, {}
    read = set()
    for number, kind, code, name, texts in rows(tree):
        read.add(number)
        for key, seen, what in ((code, codes, "code"), (name, names, "name")):
            if (kind, key) in seen:
                findings.append(Finding(PATH, number, f"{kind} {what} {key} is used in line {seen[kind, key]} already"))
            seen[kind, key] = number
        findings += check_row(number, kind, texts)
    for number, line in tree.lines(PATH):
        if STARTS_A_ROW.match(line) and number not in read:
            findings.append(Finding(PATH, number, "row not understood; write it on one line with plain texts"))
    for kind in TEXTS:
        if not any(k == kind for k, _ in codes):
            findings.append(Finding(PATH, 1, f"no {kind} row found"))
    return findings
