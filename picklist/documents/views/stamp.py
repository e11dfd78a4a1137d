"""What several sheets print alike: the foot of a page, the settings that turn an answer, and what is not counted."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from picklist import wording
from picklist.documents.views.finished_words import View
from picklist.documents.views.lookup import Lookup
from picklist.letters import natural_key
from picklist.model.plan import Plan
from picklist.settings import Settings
from picklist.wording.lists import AID


@dataclass(frozen=True, slots=True, kw_only=True)
class Printing:
    """Which revision a sheet belongs to and when it was made; ``replaces`` None for a first one."""

    revision: int
    printed: datetime
    replaces: int | None = None


class PageFoot(View):
    """The foot of a page."""

    def __init__(self, settings: Settings, revision: str, made: datetime, replaces: str) -> None:
        self.site = settings.site
        self.paper = settings.paper.in_typst
        self.revision = revision
        self.printed = f"printed {settings.site_clock.stamp(made)}"
        self.replaces = replaces
        self.aid = AID


def printing_of(plan: Plan) -> Printing:
    """The plan's own revision and time."""
    return Printing(revision=plan.revision, printed=plan.now, replaces=plan.replaces)


def stamp_for(plan: Plan, printing: Printing | None = None) -> PageFoot:
    """The foot of the sheets of one printing, which is the plan's own where none is named."""
    own = printing or printing_of(plan)
    replaces = "first printing" if own.replaces is None else f"replaces revision {own.replaces}"
    return PageFoot(plan.settings, f"Revision {own.revision}", own.printed, replaces)


def settings_lines(settings: Settings) -> tuple[tuple[str, str], ...]:
    """Name and value of each setting that a deadline or a conflict hangs on."""
    return (
        ("Start on the schedule means", settings.start_means.value),
        ("Cart complete before wheels-in", wording.span(settings.setup_lead)),
        ("Sets are freed at", settings.set_freed_at.value),
        ("Freed to out of the room", wording.span(settings.room_release)),
        ("Transport to decontamination", wording.span(settings.haul)),
        ("Tight: less to spare than", wording.span(settings.margin)),
        ("Put-back of an unopened tray", wording.span(settings.put_back)),
        ("At equal priority, who keeps its set", f"the {settings.tie_break.value}; someone decides"),
        ("On the day of expiry", "usable" if settings.expiry_day_counts else "expired"),
        ("Custom pack is taken off", "open and hold" if settings.pack_offsets_hold else "open only"),
        ("Implant sets wait for the indicator", "yes" if settings.implants_wait else "no"),
    )


MOST_NAMED = 12


def not_counted(found: Lookup) -> str:
    """Which cases' trays no figure of the plan counts, as their lists are stopped; empty when there are none."""
    stopped = sorted(found.plan.uncounted, key=natural_key)
    if not stopped:
        return ""
    if len(stopped) == 1:
        return (
            f"Case {stopped[0]} is on hold: its trays are not counted here. Once fixed, it may take sets from others."
        )
    return (
        f"Cases {wording.listed(stopped, MOST_NAMED)} are on hold: their trays are not counted here. "
        "Once fixed, they may take sets from others."
    )
