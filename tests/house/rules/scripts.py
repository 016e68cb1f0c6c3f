"""Shell scripts parse, stop on the first error and may be run; Python files parse."""

import os
import subprocess

from tree import Finding

NAME = "scripts"
WHAT = "shell scripts pass bash -n, set -euo pipefail and are executable; Python files parse"


def shell_scripts(tree):
    for path in tree.paths:
        if path.endswith(".sh") or (tree.text(path).startswith("#!") and "bash" in tree.text(path).splitlines()[0]):
            yield path


def check_shell(tree, path):
    parsed = subprocess.run(["bash", "-n", str(tree.root / path)], capture_output=True, text=True)
    if parsed.returncode != 0:
        yield Finding(path, 1, f"bash -n: {parsed.stderr.strip().splitlines()[0]}")
    if "set -euo pipefail" not in tree.text(path):
        yield Finding(path, 1, "has no 'set -euo pipefail': a failing command in a pipe would pass")
    if not os.access(tree.root / path, os.X_OK):
        yield Finding(path, 1, "is not executable; chmod +x")


def check(tree):
    findings = []
    for path in shell_scripts(tree):
        findings += check_shell(tree, path)
    for path in tree.match(suffixes=(".py",)):
        try:
            compile(tree.text(path), path, "exec")
        except SyntaxError as error:
            findings.append(Finding(path, error.lineno or 1, f"does not parse: {error.msg}"))
    return findings
