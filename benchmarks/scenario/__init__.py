"""Invented sites of any size, drawn from hand-written lists; nothing in them is real."""

from benchmarks.scenario.site import make_site
from benchmarks.scenario.sizes import BIG_DAY, FEW, LARGE_HOUSE, NOW, REGION, SAMPLE, SIZES, Size
from benchmarks.scenario.write import write_site

__all__ = ["BIG_DAY", "FEW", "LARGE_HOUSE", "NOW", "REGION", "SAMPLE", "SIZES", "Size", "make_site", "write_site"]
