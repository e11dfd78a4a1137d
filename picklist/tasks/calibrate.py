"""Say how well the chances of a site came true by its past cases, in lines, as a table and as a page."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from picklist.department.judge_forecasts import calibrate
from picklist.documents.views.finished_words import View
from picklist.documents.views.stamp import PageFoot
from picklist.model.calibration import Agreement, Calibration, ForecastBin
from picklist.settings import Settings
from picklist.tasks.read_folder import load_site
from picklist.tasks.targets import PrintedPage, check_target, print_page
from picklist.wording.say_calibration import HEADS, bin_rows, calibration_lines, calibration_table

CALIBRATION_PDF = "calibration.pdf"
LEAST_DRAWS = 500


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibrated:
    """The judgement of a site's chances; ``now`` and the settings are on its page."""

    site_folder: Path
    found: Calibration
    settings: Settings
    now: datetime

    def lines(self) -> tuple[str, ...]:
        """What to read out: the verdict, how it was found, and the table."""
        return (*calibration_lines(self.found), *calibration_table(self.found))

    def page(self) -> CalibrationPage:
        """The page with the diagram, in finished words."""
        return CalibrationPage(self.found, self.settings, self.now)

    def write(self, folder: Path) -> PrintedPage:
        """Write the page into a folder; a file of its name that is there is kept. Raises WrongUse."""
        path = folder / CALIBRATION_PDF
        check_target(self.site_folder, path, (".pdf",))
        clock = self.settings.site_clock
        return print_page(self.site_folder, self.page(), "calibration", path, self.now, clock)

    def facts(self) -> dict[str, Any]:
        """As plain values, for scripts."""
        more = {"skill": self.found.skill, "too_few": self.found.too_few}
        return asdict(self.found) | more


def calibrate_site(folder: Path | str, now: datetime | str) -> Calibrated:
    """Judge the chances of a site by its past cases: fit on the earlier, forecast the later.

    With the site's draws and seed, at least 500 draws. Raises WrongUse for a folder that is no site.
    """
    loaded, site = load_site(folder, now)
    settings = site.settings
    found = calibrate(site, draws=max(LEAST_DRAWS, settings.draws), seed=settings.seed)
    return Calibrated(site_folder=loaded.folder, found=found, settings=settings, now=loaded.now)
