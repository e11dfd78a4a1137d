"""The page that shows how well the risk figures came true: a diagram and a table of forecasts and outcomes."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from picklist.documents.missing_characters import CharacterCheck
from picklist.documents.pages import Sheet, draw
from picklist.documents.templates import fonts_of_sheets
from picklist.documents.views.finished_words import View, as_data
from picklist.documents.views.stamp import PageFoot
from picklist.model.calibration import Agreement, Calibration, ForecastBin
from picklist.settings import Settings
from picklist.tables.files import check_file, write_file
from picklist.wording.say_calibration import HEADS, bin_rows, calibration_lines

CALIBRATION_PDF = "calibration.pdf"


class Point(View):
    """A row of the table in the diagram: shares from 0 to 1, and how many forecasts."""

    def __init__(self, one: ForecastBin) -> None:
        self.forecast = one.forecast
        self.share = one.share
        self.lowest = one.lowest
        self.highest = one.highest
        self.forecasts = one.forecasts
        self.few = one.agreement is Agreement.TOO_FEW


class CalibrationPage(View):
    """The page in finished words, and where the diagram's points stand."""

    def __init__(self, found: Calibration, settings: Settings, now: datetime) -> None:
        self.stamp = PageFoot(settings, "Judged by past cases", now, "no part of a plan")
        self.title = "Do the risk figures come true?"
        forecasts = f"{found.forecasts:,} forecasts of {found.judged:,} past cases"
        self.counts = forecasts if found.judged else "Too few past cases"
        self.lines = calibration_lines(found)
        self.points = tuple(Point(one) for one in found.bins)
        self.heads = HEADS
        self.rows = bin_rows(found)


def write_calibration(page: CalibrationPage, now: datetime, folder: Path) -> Path:
    """Write the page into a folder, in place of the former one, made at an instant. Raises OSError and BusyError."""
    path = folder / CALIBRATION_PDF
    check_file(path)
    data = CharacterCheck(fonts_of_sheets()).everywhere(as_data(page))
    write_file(path, draw(Sheet(file=CALIBRATION_PDF, template="calibration", data=data, made=now)))
    return path
