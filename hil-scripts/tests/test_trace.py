"""One pull's trace in its three formats, each read by a reader of its own: they say the same, tick by tick."""

import csv
import json
import struct
import subprocess

import pytest
from yard import SIM, built

pytestmark = built

SCENARIO = """
[strand]
length = "10 m"
[instruction]
jack_force = "40 kN"
[[fault]]
kind = "emergency-stop"
at = "30 kN"
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    into = tmp_path_factory.mktemp("traces")
    (into / "s.toml").write_text(SCENARIO, encoding="ascii")
    for ending in ("csv", "vcd", "mat"):
        done = subprocess.run([SIM, "pull", into / "s.toml", "--seed", "7", "--trace", into / f"t.{ending}"],
                              capture_output=True, text=True, timeout=120)  # fmt: skip
        assert done.returncode == 1 and "EMERGENCY STOP" in done.stdout, done
    return into


@pytest.fixture(scope="module")
def rows(folder):
    with open(folder / "t.csv", newline="", encoding="ascii") as file:
        found = list(csv.DictReader(file))
    assert len(found) > 5000 and {"main-pull", "stopped"} <= {row["state_name"] for row in found}
    return found


def bit_columns(folder):
    return {c["name"]: c["bits"] for c in json.loads((folder / "t.csv.json").read_text())["columns"] if "bits" in c}


def test_the_sidecar_names_each_column_and_its_unit(folder, rows):
    note = json.loads((folder / "t.csv.json").read_text(encoding="ascii"))
    assert [column["name"] for column in note["columns"]] == list(rows[0])
    assert all(column["unit"] and column["meaning"] for column in note["columns"])
    assert (note["rows"], note["seed"], note["origin"]) == (len(rows), 7, "simulated")


def vcd_changes(path):
    """Definitions of IEEE 1364-2005, clause 18, as far as a trace uses them: {id: name}, then (time, name, value)."""
    head, _, body = path.read_text(encoding="ascii").partition("$enddefinitions $end")
    names, scopes = {}, []
    for line in head.splitlines():
        word = line.split()
        if word[0] == "$scope":
            scopes.append(word[2])
        elif word[0] == "$upscope":
            scopes.pop()
        elif word[0] == "$var":
            assert word[1] in ("real", "wire") and word[3] not in names and word[-1] == "$end"
            names[word[3]] = ".".join([*scopes[1:], word[4]])
    changes, time = [], None
    for line in body.split("\n"):
        if line.startswith("#"):
            assert time is None or int(line[1:]) > time
            time = int(line[1:])
        elif line.startswith("r"):
            value, mark = line[1:].split(" ")
            changes.append((time, names[mark], float(value)))
        elif line.startswith("b"):
            value, mark = line[1:].split(" ")
            changes.append((time, names[mark], int(value, 2)))
        elif line:
            changes.append((time, names[line[1:]], int(line[0])))
    return changes, time


def test_the_waveforms_are_those_of_the_table(folder, rows):
    changes, end = vcd_changes(folder / "t.vcd")
    assert end == len(rows)
    bits, now, at, compared = bit_columns(folder), {}, 0, 0
    for tick, row in enumerate(rows):
        while at < len(changes) and changes[at][0] <= tick:
            now[changes[at][1]] = changes[at][2]
            at += 1
        for name, text in row.items():
            if name in bits:
                value = sum(now[f"{name}.{bit}"] << n for n, bit in enumerate(bits[name]))
                assert value == int(text), (tick, name)
            elif name not in ("time_s", "state_name"):
                assert now[name] == float(text), (tick, name)
            compared += 1
    assert at == len(changes) and compared == len(rows) * len(rows[0])


def mat_variables(path):
    """Level 5 MAT-file: a header of 128 bytes, then matrices of four elements each, padded to 8 bytes."""
    data = path.read_bytes()
    assert data[124:128] == b"\x00\x01IM" and b"SIMULATED" in data[:116]
    letters = {1: "b", 4: "H", 5: "i", 6: "I", 9: "d"}
    found, at = {}, 128

    def element(at):
        kind, size = struct.unpack_from("<II", data, at)
        return kind, data[at + 8 : at + 8 + size], at + 8 + (size + 7) // 8 * 8

    while at < len(data):
        kind, _, after = element(at)
        assert kind == 14
        at, parts = at + 8, []
        while at < after:
            kind, body, at = element(at)
            parts.append(struct.unpack(f"<{len(body) // struct.calcsize(letters[kind])}{letters[kind]}", body))
        flags, size, name, values = parts
        assert at == after and flags[0] in (4, 6, 11) and size[0] * size[1] == len(values)
        found[bytes(name).decode("ascii")] = (size, values)
    return found


def test_the_matrices_are_those_of_the_table(folder, rows):
    found = mat_variables(folder / "t.mat")
    (height, width), letters = found.pop("state_names")
    names = ["".join(chr(letters[column * height + n]) for column in range(width)).strip() for n in range(height)]
    assert set(found) == set(rows[0]) - {"state_name"}
    for name, (size, values) in found.items():
        assert tuple(size) == (len(rows), 1)
        seen = [round(value, 3) for value in values] if name == "time_s" else list(values)  # the table's has three digits
        assert seen == [float(row[name]) for row in rows], name
    assert [names[n] for n in found["state"][1]] == [row["state_name"] for row in rows]


def test_another_ending_is_refused_before_the_pull(tmp_path):
    done = subprocess.run([SIM, "pull", "--trace", tmp_path / "t.xls"], capture_output=True, text=True, timeout=60)
    assert done.returncode == 2 and "end its name in .csv, .vcd or .mat" in done.stderr
    assert not (tmp_path / "t.xls").exists()


@pytest.mark.parametrize("ending", ["csv", "vcd", "mat"])
def test_a_full_disk_is_an_error(tmp_path, ending):
    (tmp_path / f"t.{ending}").symlink_to("/dev/full")
    (tmp_path / "s.toml").write_text(SCENARIO, encoding="ascii")
    done = subprocess.run([SIM, "pull", tmp_path / "s.toml", "--trace", tmp_path / f"t.{ending}"], capture_output=True,
                          text=True, timeout=60)  # fmt: skip
    assert done.returncode == 2 and "could not be written whole; free some space" in done.stderr
