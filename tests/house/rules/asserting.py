"""Every test case asserts something; heavy headers stay out of headers."""

import re

from tree import Finding

NAME = "asserting"
WHAT = "no test case without an assertion; no heavy header in a header"

CASE = re.compile(r"^(TEST|TEST_F|TEST_P|TYPED_TEST|RC_GTEST_PROP)\((.*)$", re.MULTILINE)
# An assertion, or a helper whose name says that it asserts.
ASSERTS = re.compile(r"\b(?:EXPECT_|ASSERT_|RC_ASSERT|RC_FAIL|static_assert|ADD_FAILURE|FAIL\(|\w*(?:expect|check|verify|require|prove)\w*\()", re.IGNORECASE)
PY_CASE = re.compile(r"^def (test_\w+)\(.*?(?=^\S|\Z)", re.MULTILINE | re.DOTALL)
PY_ASSERTS = re.compile(r"^\s+assert\b|pytest\.raises|\b(?:expect|check)\w*\(", re.MULTILINE)
HEAVY = re.compile(r"#\s*include\s*<(?:boost/(?:asio|beast)|CLI/|spdlog/|nlohmann/json|toml\+\+|soci/|kainjow/)")


def body_of(text, start):
    """The text from the first brace after start to the line that closes it in the first column."""
    end = text.find("\n}", start)
    return text[start:end if end >= 0 else len(text)]


def check_cpp(tree, path):
    text = tree.text(path)
    for found in CASE.finditer(text):
        if not ASSERTS.search(body_of(text, found.end())):
            yield Finding(path, text.count("\n", 0, found.start()) + 1, "this test case asserts nothing")


def check_python(tree, path):
    text = tree.text(path)
    for found in PY_CASE.finditer(text):
        if not PY_ASSERTS.search(found.group(0)):
            yield Finding(path, text.count("\n", 0, found.start()) + 1, f"{found.group(1)} asserts nothing")


def check(tree):
    findings = []
    for path in tree.match(("tests/",), ("_test.cpp",)):
        findings += check_cpp(tree, path)
    for path in tree.match(("tests/", "hil-scripts/"), (".py",)):
        findings += check_python(tree, path)
    for path in tree.match(suffixes=(".hpp", ".h")):
        for number, line in tree.lines(path):
            if HEAVY.search(line):
                findings.append(Finding(path, number, "a heavy header belongs into one .cpp behind a plain interface"))
    return findings
