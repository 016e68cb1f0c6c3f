"""Who may include whom: the arrows of the house, over every #include in quotes and the generated wire."""

import re

from tree import Finding

NAME = "arrows"
WHAT = "each room includes only the rooms that its arrow reaches"

INCLUDE = re.compile(r'^\s*#\s*include\s*(["<])([^">]+)[">]')
SOURCES = (".cpp", ".hpp", ".c", ".h", ".def", ".inc")

# The room of a path: the longest prefix wins.
ROOMS = {
    "proto/": "proto",
    "proto/peer/": "peer",
    "firmware/units/": "units",
    "firmware/control/": "control",
    "firmware/record/": "record",
    "firmware/port/": "port",
    "firmware/link/": "link",
    "firmware/crypto/": "crypto",
    "firmware/app/": "app",
    "firmware/boards/": "boards",
    "sim/plant/": "plant",
    "sim/fault/": "fault",
    "sim/board/": "simboard",
    "sim/bench/": "bench",
    "sim/checkers/": "checkers",
    "sim/campaign/": "campaign",
    "sim/fit/": "fit",
    "sim/main/": "simmain",
    "sim/main.cpp": "simmain",
    "host-tool/": "host",
    "tests/": "tests",
}

# What a room may include beside itself. The catalogue is a table of texts and codes shared by every
# screen, so everyone but units, port and plant may read that one file.
MAY = {
    "proto": set(),
    "peer": {"proto"},
    "units": set(),
    "port": {"units"},
    "control": {"units"},
    "crypto": set(),
    "record": {"port", "units", "crypto", "proto"},
    "link": {"port", "units", "crypto", "proto"},
    "app": {"units", "port", "control", "record", "link", "crypto", "proto"},
    "boards": {"port", "units", "proto"},
    "plant": set(),
    "fault": set(),
    "simboard": {"port", "units", "plant", "fault", "proto"},
    "checkers": {"plant", "fault", "bench", "simboard", "port", "units"},  # read the bench's results, never called by it
    "bench": {"simboard", "plant", "fault", "port", "units", "proto", "peer"},
    "campaign": {"bench", "simboard", "fault"},
    "fit": {"bench", "simboard", "plant", "port", "units"},
    "simmain": {"campaign", "fit", "bench", "simboard", "plant", "fault", "checkers", "port", "units", "proto", "peer", "app", "control"},
    "host": {"proto", "peer"},
}
# Only a main sees two worlds: these files may also include the rooms named.
MAINS = {
    "firmware/boards/mps2_an386/main.cpp": {"app"},
    "sim/bench/local_brain.hpp": {"app"},
    "sim/bench/local_brain.cpp": {"app"},
}
CATALOGUE = "proto/catalogue.def"
NO_CATALOGUE = {"units", "port", "plant"}
WIRE = {"strandproof/wire.pb.h": {"peer", "host", "link", "app", "record", "bench", "simmain"}}


def room_of(path):
    prefix = max((p for p in ROOMS if path.startswith(p)), key=len, default=None)
    return ROOMS[prefix] if prefix else None


def verdict(path, included):
    """Why this #include is not allowed, or None."""
    here, there = room_of(path), room_of(included)
    if included in WIRE:
        return None if here in WIRE[included] else f"{here} may not include the generated messages"
    if included == CATALOGUE:
        return f"{here} may not read the catalogue" if here in NO_CATALOGUE else None
    if there is None or there == here:
        return None
    if there in MAY[here] or there in MAINS.get(path, ()):
        return None
    return f"{here} may not include {there}; its arrows: {', '.join(sorted(MAY[here])) or 'none'}"


def resolve(tree, path, included):
    """The path from the root: a quoted include may also be relative to the including file."""
    if included in tree.paths or included in WIRE:
        return included
    beside = (tree.root / path).parent / included
    try:
        return beside.resolve().relative_to(tree.root).as_posix() if beside.exists() else included
    except ValueError:
        return "outside/" + included


def check(tree):
    findings = []
    for path in tree.match(suffixes=SOURCES):
        here = room_of(path)
        if here is None:
            findings.append(Finding(path, 1, "belongs to no room; put it into one, or name the room in arrows.py"))
        if here in (None, "tests"):
            continue
        for number, line in tree.lines(path):
            found = INCLUDE.match(line)
            if not found:
                continue
            why = verdict(path, resolve(tree, path, found.group(2)))
            if why:
                findings.append(Finding(path, number, f'#include "{found.group(2)}": {why}'))
    return findings
