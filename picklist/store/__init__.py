"""What the program remembers of a site: one SQLite file beside its folder, the one log of what was done."""
