"""One module a rule. Each has NAME, WHAT (one line) and check(tree) -> list of findings."""
