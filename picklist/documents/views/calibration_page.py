"""The page that shows how well the risk figures came true: a diagram and a table of forecasts and outcomes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from picklist.documents.views.stamp import PageFoot
from picklist.model.calibration import Agreement, Calibration
from picklist.settings import Settings
from picklist.wording.say_calibration import HEADS, bin_rows, calibration_lines


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """A row of the table in the diagram: shares from 0 to 1, and how many forecasts."""

    forecast: float
    share: float
    lowest: float
    highest: float
    forecasts: int
    few: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibrationPage:
    """The page in finished words, and where the diagram's points stand."""

    stamp: PageFoot
    title: str
    counts: str
    lines: tuple[str, ...]
    points: tuple[Point, ...]
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def calibration_page(found: Calibration, settings: Settings, now: datetime) -> CalibrationPage:
    """The page of one judgement."""
    return CalibrationPage(
        stamp=PageFoot(
            site=settings.site,
            paper=settings.paper.in_typst,
            revision="Judged by past cases",
            printed=f"printed {settings.site_clock.stamp(now)}",
            replaces="no part of a plan",
        ),
        title="Do the risk figures come true?",
        counts=f"{found.forecasts:,} forecasts of {found.judged:,} past cases"
        if found.judged
        else "Too few past cases",
        lines=calibration_lines(found),
        points=tuple(
            Point(
                forecast=one.forecast,
                share=one.share,
                lowest=one.lowest,
                highest=one.highest,
                forecasts=one.forecasts,
                few=one.agreement is Agreement.TOO_FEW,
            )
            for one in found.bins
        ),
        heads=HEADS,
        rows=bin_rows(found),
    )
