#!/usr/bin/python3
"""tests/tally.py counts what passed and nothing else: each way of losing a test is shown to be noticed."""

import pathlib
import subprocess
import sys
import tempfile
import unittest

TESTS = pathlib.Path(__file__).resolve().parent.parent

PASSED = '<testcase name="a" status="run"/>'
FAILED = '<testcase name="b" status="fail"><failure message=""/></testcase>'
NOT_BUILT = '<testcase name="c_NOT_BUILT" status="notrun"><skipped message=""/></testcase>'
PYTEST_PASSED = '<testcase classname="t" name="d" time="0.1"/>'
PYTEST_ERROR = '<testcase classname="t" name="e"><error message="fixture"/></testcase>'


class Tally(unittest.TestCase):
    def tally(self, cases, pinned):
        """What tally.py prints for a JUnit file of these cases, run beside a counts.txt of its own."""
        with tempfile.TemporaryDirectory() as folder:
            folder = pathlib.Path(folder)
            (folder / "tally.py").write_text((TESTS / "tally.py").read_text())
            (folder / "counts.txt").write_text(f"# suite number\nunit {pinned}  # pinned\n")
            if cases is not None:
                (folder / "junit.xml").write_text(f"<testsuite>{''.join(cases)}</testsuite>")
            done = subprocess.run([sys.executable, folder / "tally.py", "unit", folder / "junit.xml"],
                                  capture_output=True, text=True, check=True)
            return done.stdout.strip()

    def test_counts_what_passed(self):
        self.assertEqual(self.tally([PASSED, PASSED, PYTEST_PASSED], 3), "3 0")

    def test_failure_error_and_unbuilt_program_are_failures(self):
        self.assertEqual(self.tally([PASSED, FAILED, NOT_BUILT, PYTEST_ERROR], 4), "1 3")

    def test_a_lost_test_is_a_failure(self):
        self.assertEqual(self.tally([PASSED], 2), "1 1")

    def test_a_test_too_many_is_a_failure(self):
        self.assertEqual(self.tally([PASSED, PASSED], 1), "2 1")

    def test_no_file_at_all_is_a_failure(self):
        self.assertEqual(self.tally(None, 5), "0 1")


if __name__ == "__main__":
    unittest.main()
