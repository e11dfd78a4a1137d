"""The coordinator's board: one self-contained page, for looking where the sheets are for reading."""
