"""The root holds what the house lists and nothing else; no address of a machine is written down."""

import re

from tree import Finding

NAME = "root"
WHAT = "nothing at the root that the house does not list; no host names, no home folders"

FOLDERS = {"proto", "firmware", "sim", "host-tool", "tests", "hil-scripts", ".ci"}
FILES = {"CMakeLists.txt", "CMakePresets.json", "README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE",
         ".clang-format", ".clang-tidy", ".gitignore"}
REQUIRED = {"CMakeLists.txt", "README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", ".ci/run", "tests/run.sh",
            "hil-scripts/demo.sh"}
# Names of a namespace or of a published source, and the loopback. Nothing here is contacted but the loopback.
ALLOWED = re.compile(r"^(?:www\.w3\.org|www\.itl\.nist\.gov|www\.rfc-editor\.org|localhost|127\.0\.0\.1|example\.(?:com|org|invalid))$")
URL = re.compile(r"\b(?:https?|wss?|ftp|ssh)://(?:[^\s/@\"']*@)?([A-Za-z0-9.-]+)")
HOME = re.compile(r"(?<![\w.])/(?:home|Users)/\w+|(?<![\w.])/root" + r"/")
TEXTS = (".cpp", ".hpp", ".c", ".h", ".py", ".sh", ".md", ".cmake", ".proto", ".def", ".toml", ".json", ".txt", ".html")


def check(tree):
    findings = []
    for path in tree.paths:
        top = path.split("/")[0]
        if top not in (FOLDERS if "/" in path else FILES):
            findings.append(Finding(path, 1, "the house has no place for this at the root"))
    for path in sorted(REQUIRED - set(tree.paths)):
        findings.append(Finding(path, 1, "is missing"))
    for path in tree.match(suffixes=TEXTS, names=("run", "CMakeLists.txt", "LICENSE")):
        for number, line in tree.lines(path):
            for host in URL.findall(line):
                if not ALLOWED.match(host):
                    findings.append(Finding(path, number, f"names the host {host}; name the document instead"))
            if HOME.search(line):
                findings.append(Finding(path, number, "names somebody's home folder"))
    return findings
