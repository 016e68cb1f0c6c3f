#!/usr/bin/env bash
# Proves that the tests can fail: see README.md beside this file.
set -euo pipefail
exec /usr/bin/python3 -B "$(dirname "$0")/sabotage.py" "$@"
