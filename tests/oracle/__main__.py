"""Write what the oracle expects: ``python -m tests.oracle [DAY ...]``. Read the difference before committing it."""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

from tests.oracle.days import ORACLE

EXPECTED = Path(__file__).parent / "expected"


def main(names: list[str]) -> None:
    """Write the named days, or all."""
    for name in names or list(ORACLE):
        with tempfile.TemporaryDirectory() as folder:
            texts = ORACLE[name](Path(folder))
        place = EXPECTED / name
        shutil.rmtree(place, ignore_errors=True)
        place.mkdir(parents=True)
        for paper, lines in texts.items():
            (place / f"{paper}.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
