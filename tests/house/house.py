#!/usr/bin/python3
"""The house's own rules, each a check over the files of the tree.

    house.py RULE [--root FOLDER]     one rule; exit 1 if it is broken, with one line a finding
    house.py all [--root FOLDER]      every rule
    house.py matrix                   which test and which sabotage answers each hazard row
    house.py notes                    files that have grown long
    house.py fixtures                 shows each rule failing on a tree made to break it
"""

import argparse
import pathlib
import sys

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))
sys.dont_write_bytecode = True

from rules import arrows, asserting, bits, catalogue, docs, hazards, prose, root, scripts  # noqa: E402
from tree import Tree  # noqa: E402

RULES = {rule.NAME: rule for rule in (arrows, asserting, bits, catalogue, docs, hazards, prose, root, scripts)}


def run_rule(name, folder):
    """Prints the findings of one rule; True if there are none and it has looked at something."""
    tree = Tree(folder)
    findings = RULES[name].check(tree)
    for finding in findings:
        print(finding)
    if tree.looked_at == 0:
        print(f"{name}: looked at no file in {folder}; a check of nothing is not passed")
        return False
    print(f"{name}: {tree.looked_at} files, {len(findings)} findings ({RULES[name].WHAT})")
    return not findings


def run_fixture(folder):
    """A fixture is a small tree and expect.txt: 'rule: text that one finding must contain' lines."""
    good = True
    for line in (folder / "expect.txt").read_text().splitlines():
        name, _, wanted = line.partition(": ")
        found = [str(f) for f in RULES[name].check(Tree(folder / "tree"))]
        caught = any(wanted in f for f in found)
        good &= caught
        print(f"{folder.name}: {name} {'caught' if caught else 'MISSED'}: {wanted}")
    return good


def run_fixtures():
    folders = sorted(p.parent for p in (HERE / "fixtures").glob("*/expect.txt"))
    results = [run_fixture(folder) for folder in folders]
    shown = {line.partition(": ")[0] for f in folders for line in (f / "expect.txt").read_text().splitlines()}
    unshown = sorted(set(RULES) - shown)
    for name in unshown:
        print(f"{name}: no fixture shows this rule failing")
    return all(results) and not unshown


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=[*RULES, "all", "matrix", "notes", "fixtures"])
    parser.add_argument("--root", default=str(HERE.parent.parent))
    args = parser.parse_args()
    if args.what == "fixtures":
        return 0 if run_fixtures() else 1
    if args.what in ("matrix", "notes"):
        print("\n".join(hazards.matrix(Tree(args.root)) if args.what == "matrix" else prose.notes(Tree(args.root))))
        return 0
    names = list(RULES) if args.what == "all" else [args.what]
    return 0 if all([run_rule(name, args.root) for name in names]) else 1


if __name__ == "__main__":
    sys.exit(main())
