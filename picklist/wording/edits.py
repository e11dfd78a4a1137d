"""A change to try, written in a few words: ``move C-1041 to 13:20``."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time
from difflib import get_close_matches

from picklist.clock import NoSuchTimeError, SiteClock
from picklist.letters import one_named
from picklist.model.conflicts import Edit, RemedyKind
from picklist.model.schedule import ONE_SIDE, Case, Side
from picklist.model.site import Site
from picklist.problems import Problem, Severity, Where

FORMS = (
    "move CASE to HH:MM",
    "swap CASE and CASE",
    "room CASE to ROOM",
    "room CASE to ROOM at HH:MM",
    "cancel CASE",
    "extra TRAY by HH:MM",
    "extra TRAY by HH:MM for CASE",
    "extra TRAY left by HH:MM for CASE",
    "faster CASE TRAY STEP MINUTES",
    "instead CASE TRAY with TRAY",
    "without TRAY for CASE",
    "direct TRAY to CASE",
    "accept TRAY for CASE",
    "accept TRAY for CASE by HH:MM",
    "complete SET by HH:MM for CASE",
)
_TIME = r"(?P<time>\d{1,2}[:.h]\d{2}\s*(?:[ap]\.?m\.?)?|\d{1,2}\s*[ap]\.?m\.?|\d{3,4})"
_BY = rf"(?:(?P<on>\d{{4}}-\d{{2}}-\d{{2}}) )?{_TIME}"  # a set may be wanted on the evening before its case
_PATTERNS: tuple[tuple[RemedyKind, str], ...] = (
    (RemedyKind.SHIFT, rf"move (?P<case>CASE) to {_TIME}"),
    (RemedyKind.SWAP, r"swap (?P<case>CASE) (?:and |with )?(?P<other>CASE)"),
    (RemedyKind.ROOM, rf"room (?P<case>CASE) to (?P<room>.+?)(?: at {_TIME})?"),
    (RemedyKind.CANCEL, r"cancel (?P<case>CASE)"),
    (RemedyKind.BRING, rf"extra (?P<tray>TRAY)(?: (?P<side>left|right))? by {_BY}(?: for (?P<case>CASE))?"),
    (RemedyKind.FASTER, r"faster (?P<case>CASE) (?P<tray>TRAY) (?P<step>.+?) (?P<minutes>\d{1,5})(?: min(?:utes)?)?"),
    (RemedyKind.WITHOUT, r"without (?P<tray>TRAY) for (?P<case>CASE)"),
    (RemedyKind.DIRECT, r"direct (?P<tray>TRAY) to (?P<case>CASE)"),
    (RemedyKind.ACCEPT, rf"accept (?P<tray>TRAY) for (?P<case>CASE)(?: by {_BY})?"),
    (RemedyKind.COMPLETE, rf"complete (?P<set>SET) by {_BY} for (?P<case>CASE)"),
    (RemedyKind.STAND_IN, r"instead (?P<case>CASE) (?P<tray>TRAY) with (?P<stand_in>TRAY)"),
)


@dataclass(slots=True)
class _EditReader:
    """What the words may name, and what was wrong with them."""

    site: Site
    text: str
    day: date
    problems: list[Problem]

    def known(self, kind: str, word: str | None, names: Iterable[str]) -> str:
        """The name as the site spells it; a problem with the nearest ones when it has none."""
        if not word:
            return ""
        listed = sorted(names)
        found = one_named(word, listed)
        if found is not None:
            return found
        folded = {name.casefold(): name for name in listed}
        near = [folded[one] for one in get_close_matches(word.casefold(), folded, n=3, cutoff=0.5)]
        self.trouble(f"there is no {kind} {word}", expected=f"a {kind} of the plan", nearest=tuple(near))
        return ""

    def at(self, word: str | None, day: date) -> datetime | None:
        """The instant of a wall time on a day."""
        if not word:
            return None
        found = re.fullmatch(r"(\d{1,2})(?:[:.h]?(\d{2}))?\s*(?:([ap])\.?m\.?)?", word.strip())
        hour, minute = (int(found[1]), int(found[2] or 0)) if found else (99, 99)
        if found and found[3]:
            hour = hour % 12 + (12 if found[3] == "p" else 0) if 1 <= hour <= 12 else 99
        if hour > 23 or minute > 59:
            self.trouble(f"{word} is not a time of day", expected="a time as 13:20, 1:20 pm or 1pm")
            return None
        try:
            return self.site.settings.site_clock.instant(day, time(hour, minute))
        except NoSuchTimeError as error:
            self.trouble(str(error), expected="a time that the clock shows on that day")
            return None

    def trouble(self, message: str, *, expected: str = "", nearest: tuple[str, ...] = ()) -> None:
        """Note what is wrong."""
        self.problems.append(
            Problem(
                kind="change not understood",
                severity=Severity.STOPS_ALL,
                where=Where(file="the change to try"),
                message=f"{self.text!r}: {message}",
                value=self.text,
                expected=expected,
                nearest=nearest,
            )
        )


def read_edit(site: Site, text: str, day: date) -> tuple[Edit | None, tuple[Problem, ...]]:
    """The edit that words ask for, or None and what is wrong with them. ``day`` is that of an extra set."""
    reader = _EditReader(site, text, day, [])
    words = " ".join(text.split())
    cases, sets = _any_of(case.number for case in site.cases), _any_of(site.sets)
    trays = _any_of((*site.trays, *(tray.name for tray in site.trays.values())))
    for kind, pattern in _PATTERNS:
        named = pattern.replace(">CASE)", f">{cases})").replace(">TRAY)", f">{trays})").replace(">SET)", f">{sets})")
        found = re.fullmatch(named, words, flags=re.IGNORECASE)
        if found:
            edit = _edit(reader, kind, {name: value or "" for name, value in found.groupdict().items()})
            return (None if reader.problems else edit), tuple(reader.problems)
    first = words.split(" ")[0].casefold()
    near = tuple(form for form in FORMS if form.split(" ")[0] == first)
    reader.trouble("this is not a change that can be tried", expected="; ".join(near or FORMS))
    return None, tuple(reader.problems)


def _any_of(names: Iterable[str]) -> str:
    """A pattern for a name: one that holds spaces where it is known, else a word, else as few words as fit."""
    spaced = {" ".join(name.split()) for name in names if len(name.split()) > 1}
    known = (re.escape(name) for name in sorted(spaced, key=lambda name: (-len(name), name)))
    return "|".join((*known, r"\S+", r".+?"))


def _tray(reader: _EditReader, word: str | None) -> str:
    """A tray by its id or its name."""
    by_name = {tray.name: tray.id for tray in reader.site.trays.values() if tray.name}
    named = one_named(word, by_name) if word and one_named(word, reader.site.trays) is None else None
    return by_name[named] if named else reader.known("tray", word, reader.site.trays)


def write_edit(edit: Edit, clock: SiteClock, day: date) -> str:
    """An edit in the words that ``read_edit`` takes, with its times as the site reads its clock.

    ``day`` is that of its case, or of the plan where it has none: a time on it needs no day.
    """
    at = _time_to_type(edit.start, clock, day) if edit.start else ""
    match edit.kind:
        case RemedyKind.SHIFT:
            return f"move {edit.case} to {at}"
        case RemedyKind.SWAP:
            return f"swap {edit.case} and {edit.other_case}"
        case RemedyKind.ROOM:
            return f"room {edit.case} to {edit.room}{f' at {at}' if at else ''}"
        case RemedyKind.CANCEL:
            return f"cancel {edit.case}"
        case RemedyKind.BRING:
            side = f" {edit.side}" if edit.side in ONE_SIDE else ""
            return f"extra {edit.tray}{side} by {at}{f' for {edit.case}' if edit.case else ''}"
        case RemedyKind.FASTER:
            return f"faster {edit.case} {edit.tray} {edit.step} {edit.minutes}"
        case RemedyKind.STAND_IN:
            return f"instead {edit.case} {edit.tray} with {edit.stand_in}"
        case RemedyKind.WITHOUT:
            return f"without {edit.tray} for {edit.case}"
        case RemedyKind.DIRECT:
            return f"direct {edit.tray} to {edit.case}"
        case RemedyKind.ACCEPT:
            return f"accept {edit.tray} for {edit.case}{f' by {at}' if at else ''}"
        case RemedyKind.COMPLETE:
            return f"complete {edit.set_id} by {at} for {edit.case}"


def _time_to_type(moment: datetime, clock: SiteClock, day: date) -> str:
    on = clock.day(moment)
    return clock.hhmm(moment) if on == day else f"{on.isoformat()} {clock.hhmm(moment)}"


def _edit(reader: _EditReader, kind: RemedyKind, found: dict[str, str]) -> Edit:
    site = reader.site
    cases = {case.number: case for case in site.cases}
    number = reader.known("case", found.get("case"), cases)
    tray = _tray(reader, found.get("tray"))
    rooms = {case.room for case in site.cases} | set(site.rooms)
    return Edit(
        kind=kind,
        case=number,
        other_case=reader.known("case", found.get("other"), cases),
        tray=tray,
        stand_in=_tray(reader, found.get("stand_in")),
        room=reader.known("room", found.get("room"), rooms),
        start=reader.at(found.get("time", "").lower(), _day(reader, cases.get(number), found.get("on", ""))),
        step=_step(reader, tray, found.get("step", "")),
        minutes=int(found.get("minutes") or 0),
        set_id=reader.known("set", found.get("set"), site.sets),
        side=Side(side) if (side := found.get("side", "").lower()) else None,
    )


def _day(reader: _EditReader, case: Case | None, on: str) -> date:
    """The day of a time: the one beside it, else that of the case or of the plan."""
    day = case.day if case is not None else reader.day
    try:
        return date.fromisoformat(on) if on else day
    except ValueError:
        reader.trouble(f"{on} is not a day", expected=f"a day as {day.isoformat()}, or none for that of the case")
        return day


def _step(reader: _EditReader, tray: str, word: str) -> str:
    if not word or not tray:
        return ""
    route = reader.site.routes.get(reader.site.trays[tray].route)
    return reader.known("step", word, [step.name for step in route.steps] if route else [])
