"""Hard to break: inputs spoiled by chance, writes that fail one by one, and mutants of the rules. See README.md."""
