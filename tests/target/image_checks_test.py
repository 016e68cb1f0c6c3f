#!/usr/bin/python3
"""The checks on the images: the firmware's image passes, and the bad image is found out in every point.

usage: image_checks_test.py FOLDER_OF_THE_ARM_BUILD
"""
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent


def check(script, image, *more):
    done = subprocess.run(["/usr/bin/python3", HERE / script, image, *more], capture_output=True, text=True,
                          check=False)
    return done.returncode, done.stdout, done.stderr


def main():
    arm = Path(sys.argv[1])
    bad = arm / "tests/target/images/board_bad.elf"
    firmware = arm / "firmware/boards/mps2_an386/strandproof_firmware.elf"
    calls = HERE / "stack_calls.txt"
    failures = []

    for script, more in (("image_symbols.py", ()), ("worst_stack.py", (calls,))):
        code, out, err = check(script, firmware, *more)
        print(f"{script} {firmware.name}\n{out}{err}")
        if code != 0:
            failures.append(f"{script} refuses the firmware's image")

    expected = {"image_symbols.py": ((), ["malloc: a heap"]),
                "worst_stack.py": ((calls,), ["recursion: ", "by a variable amount", "board_main: an indirect call"])}
    for script, (more, texts) in expected.items():
        code, _, err = check(script, bad, *more)
        failures += [f"{script} does not find '{text}' in the bad image" for text in texts if text not in err]
        if code != 1:
            failures.append(f"{script} ends with {code} on the bad image, not 1")

    for f in failures:
        print("FAILED: " + f)
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
