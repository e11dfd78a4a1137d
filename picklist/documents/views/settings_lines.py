"""The settings that can turn an answer, printed with it."""

from __future__ import annotations

from picklist import wording
from picklist.settings import Settings


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
