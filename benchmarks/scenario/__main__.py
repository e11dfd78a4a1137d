"""Write an invented site: ``python -m benchmarks.scenario SIZE FOLDER``."""

from __future__ import annotations

import sys
from pathlib import Path

from benchmarks.scenario import SIZES, make_site, write_site

SEED = 1


def main(words: list[str]) -> int:
    """Write the site and say what it holds."""
    if len(words) != 2 or words[0] not in SIZES:
        print(f"usage: python -m benchmarks.scenario SIZE FOLDER, where SIZE is one of: {', '.join(SIZES)}")
        return 2
    tables = make_site(SIZES[words[0]], SEED)
    for path in write_site(Path(words[1]), tables):
        print(path)
    for name, rows in tables.items():
        print(f"{len(rows):8,}  {name}")
    print(f"{sum(map(len, tables.values())):8,}  rows in all")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
