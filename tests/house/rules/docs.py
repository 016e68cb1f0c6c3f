"""Documents name files that exist: a tour that leads to a missing file is worse than none."""

import re

from tree import Finding

NAME = "docs"
WHAT = "every path of ours that a document names in backticks exists"

TICKED = re.compile(r"`([^`\n]+)`")
# A word that starts at one of the house's folders.
PATH = re.compile(r"^(?:proto|firmware|sim|host-tool|tests|hil-scripts|\.ci)/[\w./-]*\w/?$")


def exists(tree, name):
    return (tree.root / name).exists()


def check(tree):
    findings = []
    for path in tree.match(suffixes=(".md",)):
        for number, line in tree.lines(path):
            for ticked in TICKED.findall(line):
                for word in ticked.split():
                    if PATH.match(word) and not exists(tree, word):
                        findings.append(Finding(path, number, f"names {word}, which does not exist"))
    return findings
