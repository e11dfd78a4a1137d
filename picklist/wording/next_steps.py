"""What to do next where something that every evening needs is not there yet."""

from __future__ import annotations

from enum import StrEnum


class NextStep(StrEnum):
    """What is not there yet, the first thing first."""

    NO_FILES = "no files"
    NO_SCHEDULE = "no schedule"
    NO_CARDS = "no cards"
    NO_CASES = "no cases"


IN_TERMINAL = {
    NextStep.NO_FILES: "this folder has no workbooks yet. picklist demo {site} writes a small made-up hospital to try "
    "it on, picklist blank {site} writes empty workbooks to fill in.",
    NextStep.NO_SCHEDULE: "put the schedule into the folder, as a sheet Schedule or a file Schedule.csv; for an export "
    "of another system: picklist headers {site} EXPORT.",
    NextStep.NO_CARDS: "put the preference cards into the folder, as a sheet Cards or a file Cards.csv; picklist "
    "tables lists their columns.",
    NextStep.NO_CASES: "the schedule has no case to come{over}; put the schedule of the next days into the folder.",
}
ON_PAGE = {
    NextStep.NO_FILES: "This folder has no workbooks yet. Start with a small made-up hospital to try picklist on, or "
    "with empty workbooks to fill in; or drop your own files below.",
    NextStep.NO_SCHEDULE: "The schedule is missing. Drop it below. An export of another system will do: the page then "
    "asks what its headers mean.",
    NextStep.NO_CARDS: "The preference cards are missing. Drop a workbook with a sheet Cards below.",
    NextStep.NO_CASES: "The schedule has no case to come{over}. Drop the schedule of the next days below.",
}


def in_terminal(step: NextStep, site: str, over: str = "") -> str:
    """The next step as commands; ``site`` is the folder as it is typed, ``over`` the cases that are no more to come."""
    return f"Next: {IN_TERMINAL[step].format(site=site, over=over)}"


def on_page(step: NextStep, over: str = "") -> str:
    """The next step on the page."""
    return ON_PAGE[step].format(over=over)
