"""The calibration technician's table in use: loaded and undone, checked, withdrawn, its keys and parts changed."""

import csv
import datetime
import json

import pytest
from yard import ROOT, Jack, Office, built

pytestmark = built


@pytest.fixture
def jack(tmp_path):
    served = Jack(tmp_path)
    yield served
    served.process.terminate()
    served.process.wait(10)


@pytest.fixture
def office(tmp_path, jack):
    made = Office(tmp_path)
    jack.make_ready(made)
    return made


def shown(office, jack):
    return json.loads(office.run("--json", "gauge", "show", port=jack.link)[1])


def spot_run(office, name, factor):
    """Three set points and the zeros of the first series; channel A reads `factor` times what it read then."""
    with open(office.folder / "runs.csv", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    points = sorted({int(r["set_point_n"]) for r in rows if r["direction"] == "up"})
    wanted = {points[1], points[len(points) // 2], points[-2]}
    later = datetime.datetime.now(datetime.timezone.utc) + datetime.timedelta(minutes=5)
    with open(office.folder / name, "w", encoding="utf-8") as file:
        out = csv.DictWriter(file, rows[0].keys(), lineterminator="\n")
        out.writeheader()
        for r in rows:
            if r["run"] != "1" or (r["direction"] != "zero" and (r["direction"] != "up" or int(r["set_point_n"]) not in wanted)):
                continue
            r["taken_at"] = later.isoformat(timespec="seconds")
            if r["direction"] == "up":
                r["pressure_a_mbar"] = f"{float(r['pressure_a_mbar']) * factor:.2f}"
            out.writerow(r)


def another_table(office, name="other.json"):
    answer = office.run("gauge", "fit", "runs.csv", "-o", name, "--points", "9")
    assert answer[0] == 0, answer


def calibrate_again(office, factor=1.0004, minutes=1):
    """The runs of `office` some minutes later with each pressure times `factor`, fitted as new.json."""
    with open(office.folder / "runs.csv", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    with open(office.folder / "new.csv", "w", encoding="utf-8") as file:
        out = csv.DictWriter(file, rows[0].keys(), lineterminator="\n")
        out.writeheader()
        for r in rows:
            taken = datetime.datetime.fromisoformat(r["taken_at"]) + datetime.timedelta(minutes=minutes)
            pressures = {c: f"{float(r[c]) * factor:.2f}" for c in ("pressure_a_mbar", "pressure_b_mbar")}
            out.writerow(r | pressures | {"taken_at": taken.isoformat(timespec="seconds")})
    answer = office.run("gauge", "fit", "new.csv", "-o", "new.json")
    assert answer[0] == 0, answer


def import_points(office, table, due_days=90):
    """The points of a table's file handed in as an outside laboratory's pairs, as imported.json."""
    held = json.loads((office.folder / table).read_text(encoding="utf-8"))
    lines = ["channel,direction,pressure_mbar,force_n"]
    for channel in ("a", "b"):
        lines += [f"{channel.upper()},up,{p},{n}" for p, n in held["columns"][f"{channel}_increasing"]["points_mbar_n"]]
    (office.folder / "pairs.csv").write_text("\n".join(lines) + "\n", encoding="ascii")
    calibrated = datetime.datetime.fromisoformat(held["calibrated"].replace("Z", "+00:00")) + datetime.timedelta(minutes=2)
    due = calibrated + datetime.timedelta(days=due_days)
    answer = office.run("gauge", "import", "pairs.csv", "-o", "imported.json", "--issuer", "laboratory", "--certificate", "C-1",
                        "--jack", str(held["jack_serial"]), "--sensor-a", str(held["sensor_a_serial"]),
                        "--sensor-b", str(held["sensor_b_serial"]), "--origin", "simulated", "--uncertainty-ppm", "9000",
                        "--calibrated", calibrated.isoformat(), "--due", due.isoformat())  # fmt: skip
    if due_days <= 400:
        assert answer[0] == 0, answer
    return answer


def test_an_import_states_a_due_date_that_the_load_would_take(office):
    (office.folder / "imported.json").unlink(missing_ok=True)
    code, out, err = import_points(office, "table.json", 401)
    assert code == 1 and "more than 400 days after its calibration" in err and err.count("\n") == 1, err
    assert not (office.folder / "imported.json").exists() and not out


@pytest.mark.parametrize("option", ["--resolution-n", "--temperature-k", "--other-ppm", "--split-percent", "--class-wanted"])
def test_a_number_that_is_none_is_refused(office, option):
    for value in ("nan", "inf", "-1", "4e9", "x"):
        code, out, err = office.run("gauge", "fit", "runs.csv", "-o", "n.json", option, value)
        assert code == 2 and option in err and not (office.folder / "n.json").exists(), (value, out, err)


def test_a_calibration_that_contradicts_the_table_in_use_is_not_just_loaded(office, jack):
    calibrate_again(office, 1.004)  # more than the table's uncertainty
    code, _, err = office.run("gauge", "load", "new.json", port=jack.link)
    assert code == 0 and "warning: new.json finds table revision 1 wrong by 0.4" in err, err
    calibrate_again(office, 1.03, 2)
    code, _, err = office.run("gauge", "load", "new.json", port=jack.link)
    assert code == 1 and "more than 2 %" in err and "withdraw it first" in err and err.count("\n") == 1, err
    assert office.run("gauge", "withdraw", "--reason", "failed-check", port=jack.link)[0] == 0
    calibrate_again(office, 1.03, 2)
    code, _, err = office.run("gauge", "load", "new.json", port=jack.link)
    assert code == 0, err


def plan(office, *changes):
    """The example plan on a shorter line, with texts replaced, as plan.toml."""
    text = (ROOT / "host-tool/bed/example-plan.toml").read_text(encoding="utf-8")
    for old, new in [('"60 m"', '"40 m"'), *changes]:
        assert old in text
        text = text.replace(old, new)
    (office.folder / "plan.toml").write_text(text, encoding="utf-8")


def test_a_plan_outside_the_table_is_not_sent(office, jack):
    lowest = json.loads((office.folder / "table.json").read_text(encoding="utf-8"))["lowest_initial_n"]
    plan(office, ('"15 kN"', f'"{lowest - 10} N"'))
    for how in (["--dry"], []):
        code, _, err = office.run("bed", "send", "plan.toml", *how, port=jack.link)
        assert code == 1 and "the lowest that gauge table revision 1 supports; raise it in the plan" in err, err
    plan(office, ('"15 kN"', f'"{lowest + 10} N"'))
    assert office.run("bed", "send", "plan.toml", "--dry")[0] == 0
    plan(office, ('"128 kN"', '"260 kN"'), ('"186 kN"', '"360 kN"'), ('"160 kN"', '"320 kN"'), ('"100 mm2"', '"200 mm2"'))
    for how in (["--dry"], []):
        code, _, err = office.run("bed", "send", "plan.toml", *how, port=jack.link)
        assert code == 1 and "the largest of gauge table revision 1; calibrate the jack higher" in err, err


def test_a_table_is_loaded_undone_and_comes_back_only_with_a_higher_revision(office, jack):
    code, out, _ = office.run("gauge", "show", "--file", "table.json", port=jack.link)
    assert code == 0 and "is what the jack works with, byte for byte" in out, out
    another_table(office)
    assert office.run("gauge", "load", "other.json", port=jack.link)[0] == 0
    code, out, _ = office.run("gauge", "show", "--file", "table.json", port=jack.link)
    assert code == 1 and "is NOT what the jack works with" in out, out
    code, out, _ = office.run("gauge", "undo", "--why", "wrong file", port=jack.link)
    assert code == 0 and "revision 2 undone, revision 1 is active again" in out, out
    assert office.run("gauge", "show", "--file", "table.json", port=jack.link)[0] == 0
    code, _, err = office.run("gauge", "load", "other.json", "--revision", "2", port=jack.link)
    assert code == 1 and "TABLE REVISION NOT HIGHER" in err, err
    assert office.run("gauge", "load", "other.json", port=jack.link)[0] == 0
    assert shown(office, jack)["floor"] == 3
    out = office.run("gauge", "history")[1]
    for part in ("revision 1 loaded", "revision 2 loaded", "revision 2 undone, revision 1 active again", "wrong file",
                 "revision 3 loaded", "by calibration technician"):  # fmt: skip
        assert part in out, out


def test_a_table_that_was_edited_is_not_signed(office, jack):
    text = (office.folder / "table.json").read_text(encoding="utf-8")
    due = json.loads(text)["due"]
    (office.folder / "edited.json").write_text(text.replace(due, "2030" + due[4:]), encoding="utf-8")
    code, out, err = office.run("gauge", "load", "edited.json", port=jack.link)
    assert code == 1 and "edited.json: changed after the fit: " in err and not out, (out, err)
    assert err.endswith("; fit the runs again\n") and err.count("\n") == 1, err
    assert shown(office, jack)["floor"] == 1


@pytest.mark.parametrize("factor, code, verdict", [(1.0, 0, "PASS"), (1.015, 1, "DRIFT"), (1.03, 1, "WITHDRAW")])
def test_a_spot_run_is_judged_and_entered(office, jack, factor, code, verdict):
    spot_run(office, "spot.csv", factor)
    answer = office.run("gauge", "check", "spot.csv", "--by", "works lead", port=jack.link)
    assert answer[0] == code and f"{verdict}: largest error" in answer[1], answer
    assert f"revision 1 checked: {verdict}, by works lead" in office.run("gauge", "history")[1]


def test_a_withdrawn_table_bars_arming_until_the_jack_is_calibrated_again(office, jack):
    code, out, _ = office.run("gauge", "withdraw", "--reason", "dropped", port=jack.link)
    assert code == 0 and "it arms no pull" in out, out
    told = shown(office, jack)
    assert told["slot_a"]["state"] == "WITHDRAWN" and told["refusal"] == 23
    code, _, err = office.run("gauge", "load", "table.json", port=jack.link)
    assert code == 1 and "this table was withdrawn (DROPPED OR HIT)" in err, err
    held = office.common[1]
    office.common[1] = office.folder / "another.sqlite"  # that has heard of nothing: the jack itself is asked
    code, out, err = office.run("gauge", "load", "table.json", port=jack.link)
    assert code == 1 and "that was withdrawn: DROPPED OR HIT; calibrate the jack" in err and not out, (out, err)
    office.common[1] = held
    another_table(office)  # the same runs fitted otherwise are the same calibration
    code, _, err = office.run("gauge", "load", "other.json", port=jack.link)
    assert code == 1 and "this table was withdrawn (DROPPED OR HIT)" in err, err
    calibrate_again(office, 1.0)  # so are its readings with a later time, and its points as an outside laboratory's
    import_points(office, "new.json")
    for same in ("new.json", "imported.json"):
        code, _, err = office.run("gauge", "load", same, port=jack.link)
        assert code == 1 and "this table was withdrawn (DROPPED OR HIT)" in err, err
        office.common[1] = office.folder / "another.sqlite"
        code, _, err = office.run("gauge", "load", same, port=jack.link)
        assert code == 1 and f"{same}: has the points of the table of " in err, err
        office.common[1] = held
    assert office.run("gauge", "withdraw", "--reason", "seal", port=jack.link)[0] == 0
    history = office.run("gauge", "history")[1]
    assert "WITHDRAWN: DROPPED OR HIT" in history and "WITHDRAWN: SEAL CHANGED OR LEAKING" in history, history
    calibrate_again(office)
    answer = office.run("gauge", "load", "new.json", port=jack.link)
    assert answer[0] == 0, answer
    assert shown(office, jack)["refusal"] == 0


def test_a_lost_key_costs_a_walk_to_the_jack(office, jack):
    assert office.run("key", "table-new", "--name", "tests", "-o", "second.key")[0] == 0
    jack.agree(office, "enrol-table-key", "key", "enrol", "second.key")
    assert len(shown(office, jack)["keys"]) == 2
    jack.pendant("revoke-table-key 1")
    told = shown(office, jack)
    assert len(told["keys"]) == 1 and told["refusal"] == 26
    code, _, err = office.run("gauge", "load", "table.json", port=jack.link)
    assert code == 1 and "TABLE SIGNATURE WRONG" in err, err
    assert office.run("gauge", "load", "table.json", "--table-key", "second.key", port=jack.link)[0] == 0
    assert shown(office, jack)["refusal"] == 0


def test_a_changed_part_voids_the_table_for_good(office, jack):
    jack.pendant("part-changed seal")
    told = shown(office, jack)
    assert told["refusal"] == 24 and any("SEAL" in w for w in told["warnings"]), told
    spot_run(office, "spot.csv", 1.0)
    code, _, err = office.run("gauge", "check", "spot.csv", port=jack.link)
    assert code == 1 and err.count("\n") == 1 and "is void, part changed: SEAL" in err, err
    code, _, err = office.run("gauge", "load", "table.json", port=jack.link)
    assert code == 1 and "made before this part was changed: SEAL" in err, err
    assert office.run("log", "fetch", port=jack.link)[0] == 0
    assert "part changed, named at the pendant" in office.run("gauge", "history")[1]


def test_a_wrong_passphrase_signs_nothing(office, jack):
    wrong = office.folder / "wrong"
    wrong.write_text("some other words\n", encoding="ascii")
    wrong.chmod(0o600)
    another_table(office)
    code, _, err = office.run("gauge", "load", "other.json", "--passphrase-file", wrong, port=jack.link)
    assert code == 1 and err.count("\n") == 1 and "the passphrase does not open it" in err, err
    assert shown(office, jack)["floor"] == 1
