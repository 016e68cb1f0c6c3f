#!/usr/bin/python3
"""Applies each sabotage in a scratch copy of the tree and demands that its test turns red.

    sabotage.py [--quick] [--twins] [PREFIX...]     see README.md beside this file
"""

import argparse
import os
import pathlib
import re
import shutil
import subprocess
import sys
import time
import xml.etree.ElementTree as ElementTree

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parent.parent
SCRATCH = ROOT / "build" / "sabotage"
JOBS = os.environ.get("JOBS", str(os.cpu_count() or 1))
FIELDS = {"target", "test", "command", "why", "hazard", "preset", "quick", "kill"}
RED = "[  FAILED  ]"  # what GoogleTest prints for a failed assertion; a crash or a timeout is no proof


class Bad(Exception):
    """A sabotage that proves nothing, and why."""


class Patch:
    def __init__(self, path):
        self.path, self.name = path, path.stem
        self.fields = {"preset": "dev", "quick": "no", "kill": RED, "target": "none"}
        for line in path.read_text().splitlines():
            found = re.match(r"# (\w+): (.*)$", line)
            if line.startswith("diff ") or line.startswith("--- "):
                break
            if not found or found.group(1) not in FIELDS:
                raise Bad(f"{path.name}: header line not understood: {line!r}; see tests/sabotage/README.md")
            self.fields[found.group(1)] = found.group(2).strip()
        missing = {"why"} | (set() if "command" in self.fields else {"test"})
        missing -= set(self.fields)
        if missing:
            raise Bad(f"{path.name}: header lacks {', '.join(sorted(missing))}; see tests/sabotage/README.md")

    def __getattr__(self, field):
        if field not in self.fields:
            raise AttributeError(field)
        return self.fields[field]


def run(command, **options):
    return subprocess.run(command, capture_output=True, text=True, errors="replace", **options)


def sync_scratch():
    """Brings the scratch copy up to date; files that are the same keep their times, so little is rebuilt."""
    listed = run(["git", "-C", str(ROOT), "ls-files", "-co", "--exclude-standard"], check=True).stdout.splitlines()
    wanted = {p for p in listed if (ROOT / p).is_file()}
    for path in wanted:
        here, there = ROOT / path, SCRATCH / path
        if not there.exists() or there.read_bytes() != here.read_bytes():
            there.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(here, there)
    for there in SCRATCH.rglob("*"):
        relative = there.relative_to(SCRATCH).as_posix()
        if there.is_file() and not relative.startswith("build/") and relative not in wanted:
            there.unlink()


def apply(patch, reverse=False):
    command = ["patch", "-p1", "--batch", "--no-backup-if-mismatch", "--reject-file=-", "-i", str(patch.path)]
    done = run(command + (["-R"] if reverse else ["-N"]), cwd=SCRATCH)
    if done.returncode != 0 and not reverse:
        sync_scratch()
        raise Bad("does not apply; make the patch again from the present tree")
    if done.returncode != 0:
        sync_scratch()


def configure(preset):
    (SCRATCH / "build").mkdir(exist_ok=True)
    sources = SCRATCH / "build" / "sources"
    if not sources.exists():
        sources.symlink_to(ROOT / "build" / "sources")
    if not (SCRATCH / "build" / preset / "build.ninja").exists():
        done = run(["cmake", "--preset", preset], cwd=SCRATCH)
        if done.returncode != 0:
            raise Bad(f"the scratch copy does not configure: {done.stderr.strip()[-400:]}")


def build(patch):
    """The output of a failed build, or ''."""
    if patch.target == "none":
        return ""
    targets = patch.target.split()
    done = run(["cmake", "--build", "--preset", patch.preset, "-j", JOBS, "--target", *targets], cwd=SCRATCH)
    return "" if done.returncode == 0 else done.stdout + done.stderr


def run_command(patch):
    """A script instead of a CTest test: the same shape of result."""
    done = run(["bash", "-c", patch.command], cwd=SCRATCH)
    return {patch.command: ("run" if done.returncode == 0 else "fail", done.stdout + done.stderr)}


def test(patch):
    """{case: (outcome, output)} of the tests that match."""
    if "command" in patch.fields:
        return run_command(patch)
    folder = SCRATCH / "build" / patch.preset
    junit = folder / "sabotage.xml"
    junit.unlink(missing_ok=True)
    run(["ctest", "--no-tests=error", "-R", f"^({patch.test})$", "--output-junit", str(junit), "--timeout", "300"],
        cwd=folder)
    if not junit.exists():
        raise Bad(f"no test is called {patch.test}")
    cases = ElementTree.parse(junit).getroot().iter("testcase")
    return {c.get("name"): (c.get("status"), c.findtext("system-out") or "") for c in cases}


def judge(patch):
    """Raises Bad unless the sabotage is caught by a named assertion."""
    failed_build = build(patch)
    if patch.kill.startswith("build "):
        if patch.kill.removeprefix("build ") not in failed_build:
            raise Bad(f"the build was to fail with {patch.kill.removeprefix('build ')!r}, and did not")
        return "the compiler"
    if failed_build:
        raise Bad(f"does not build: {failed_build.strip()[-400:]}")
    results = test(patch)
    if not results:
        raise Bad(f"no test matches {patch.test}")
    red = [name for name, (status, output) in results.items() if status == "fail" and patch.kill in output]
    if not red:
        raise Bad(f"SURVIVED: {', '.join(f'{n} {s}' for n, (s, _) in results.items())}")
    return ", ".join(red)


def twin(patch):
    """The same test in the tree as it is: it must pass, or its turning red proves nothing."""
    failed_build = build(patch)
    if failed_build:
        raise Bad(f"the unbroken tree does not build: {failed_build.strip()[-400:]}")
    results = test(patch)
    if not results or any(status != "run" for status, _ in results.values()):
        raise Bad(f"the unbroken test does not pass: {', '.join(f'{n} {s}' for n, (s, _) in results.items())}")


def prove(patch, with_twin):
    started = time.monotonic()
    try:
        configure(patch.preset)
        if with_twin:
            twin(patch)
        apply(patch)
        try:
            caught = judge(patch)
        finally:
            apply(patch, reverse=True)
        print(f"caught   {patch.name} by {caught} ({time.monotonic() - started:.0f} s): {patch.why}", flush=True)
        return True
    except Bad as bad:
        print(f"NOT CAUGHT {patch.name}: {bad}", flush=True)
        return False


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("prefix", nargs="*", help="only patches whose name starts so")
    parser.add_argument("--quick", action="store_true", help="only those marked quick")
    parser.add_argument("--twins", action="store_true", help="first run each test unbroken")
    args = parser.parse_args()
    os.environ.setdefault("CCACHE_NOHASHDIR", "1")
    os.environ["CCACHE_BASEDIR"] = str(SCRATCH)
    try:
        patches = [Patch(p) for p in sorted(HERE.glob("*.patch"))]
    except Bad as bad:
        print(bad)
        return 2
    if args.prefix:
        patches = [p for p in patches if p.name.startswith(tuple(args.prefix))]
    if args.quick:
        patches = [p for p in patches if p.quick == "yes"]
    if not patches:
        print("sabotage: no patch matches; nothing was proven")
        return 1
    SCRATCH.mkdir(parents=True, exist_ok=True)
    sync_scratch()
    results = [prove(patch, args.twins) for patch in patches]
    print(f"sabotage: {sum(results)} caught, {len(results) - sum(results)} not caught")
    return 0 if all(results) else 1


if __name__ == "__main__":
    sys.exit(main())
