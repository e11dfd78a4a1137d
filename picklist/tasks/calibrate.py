"""Say how well the chances of a site came true by its past cases, in lines, as a table and as a page."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from picklist.department.judge_forecasts import calibrate
from picklist.documents.calibration_page import CalibrationPage, write_calibration
from picklist.model.calibration import Calibration
from picklist.settings import Settings
from picklist.tasks.read_folder import load_site
from picklist.wording.say_calibration import calibration_lines, calibration_table

LEAST_DRAWS = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibrated:
    """The judgement of a site's chances; ``now`` and the settings are on its page."""

    found: Calibration
    settings: Settings
    now: datetime

    def lines(self) -> tuple[str, ...]:
        """What to read out: the verdict, how it was found, and the table."""
        return (*calibration_lines(self.found), *calibration_table(self.found))

    def page(self) -> CalibrationPage:
        """The page with the diagram, in finished words."""
        return CalibrationPage(self.found, self.settings, self.now)

    def write(self, folder: Path) -> Path:
        """Write the page into a folder, in place of the former one. Raises OSError and BusyError."""
        return write_calibration(self.page(), self.now, folder)

    def facts(self) -> dict[str, Any]:
        """As plain values, for scripts."""
        more = {"skill": self.found.skill, "too_few": self.found.too_few}
        return asdict(self.found) | more


def calibrate_site(folder: Path, now: datetime) -> Calibrated:
    """Judge the chances of a site by its past cases: fit on the earlier, forecast the later.

    With the site's draws and seed, at least 500 draws. Raises WrongUse for a folder that is no site.
    """
    loaded, site = load_site(folder, now)
    settings = site.settings
    found = calibrate(site, draws=max(LEAST_DRAWS, settings.draws), seed=settings.seed)
    return Calibrated(found=found, settings=settings, now=loaded.now)
