"""Same bits on every machine: nothing of libm where a trace is made, no switch for the simulator."""

import re

from tree import Finding

NAME = "bits"
WHAT = "no libm function, no fast-math and no simulator switch where bits are made"

ROOMS = ("firmware/", "sim/plant/", "sim/board/")
SOURCES = (".cpp", ".hpp", ".c", ".h")
# Images built wrong on purpose, to show that the comparison of bits notices.
BROKEN_ON_PURPOSE = "tests/target/images/"
# Functions whose last bit differs between libm versions and CPUs. sqrt is exact by IEEE 754.
LIBM = re.compile(
    r"(?:std::|::|__builtin_|(?<![\w.:>]))"
    r"(?:exp|exp2|expm1|log|log2|log10|log1p|pow|sin|cos|tan|asin|acos|atan|atan2|sinh|cosh|tanh|cbrt|hypot|fma|erf|tgamma)f?\s*\((?!\s*\))"
)
MATH_HEADER = re.compile(r"#\s*include\s*<(?:cmath|math\.h|ctgmath|complex|random)>")
SIM_SWITCH = re.compile(r"#\s*(?:if|ifdef|ifndef|elif)\b.*\b\w*(?:SIMULAT|_SIM\b|\bSIM_|DESKTOP)", re.IGNORECASE)
FAST_MATH = re.compile(r"(?<!no-)fast-math|-Ofast|ffp-contract=(?!off)")
COMMENT = re.compile(r"//.*$")


def check(tree):
    findings = []
    for path in tree.match(ROOMS, SOURCES):
        for number, line in tree.lines(path):
            code = COMMENT.sub("", line)
            if LIBM.search(code):
                findings.append(Finding(path, number, "libm differs in its last bit between machines; use + - * / sqrt or a table"))
            if path.startswith("firmware/") and MATH_HEADER.search(code):
                findings.append(Finding(path, number, "firmware does not include the math headers; sqrt is __builtin_sqrtf"))
            if path.startswith("firmware/") and SIM_SWITCH.search(code):
                findings.append(Finding(path, number, "the simulator is one more board, never an #ifdef"))
    for path in tree.match(suffixes=(".cmake",), names=("CMakeLists.txt", "CMakePresets.json")):
        if path.startswith(BROKEN_ON_PURPOSE):
            continue
        for number, line in tree.lines(path):
            if FAST_MATH.search(line.split("#")[0]):
                findings.append(Finding(path, number, "this flag changes bits between machines"))
    return findings
