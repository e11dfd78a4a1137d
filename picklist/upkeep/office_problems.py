"""What is said about a returned workbook and its rows: each sentence in one place."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import date

from picklist.model.site import Site
from picklist.problems import Problem, Where, notice, to_fix
from picklist.tables.nearest import plain
from picklist.upkeep.office_plan import MINE_COUNTS
from picklist.upkeep.office_return import OfficeReturn, OfficeRow
from picklist.upkeep.proposals import Proposal
from picklist.upkeep.slots import RowValue, want_text
from picklist.upkeep.stamps import StampRow, WorkbookStamp
from picklist.wording import open_and_hold

NAME = "Name (number)"


def find_strange(site: Site, returned: OfficeReturn, *, sent: WorkbookStamp | None, ours: bool) -> Problem | None:
    """Why a workbook may not be this site's: no record of it, another site's name, an owner who is not known.

    ``sent`` is the record of what was sent in its version; ``ours`` is somebody's word that it was sent from here.
    """
    stamp = returned.stamp
    where = Where(file=returned.path.name)
    if sent is None and stamp.site and stamp.site != site.settings.site:
        message = f"this workbook was made at another site, not at {site.settings.site}"
        found = to_fix("other-site", where, message, expected="a workbook that was sent from here")
        return replace(found, value=stamp.site)
    if sent is None and not ours:
        message = f"no record here says that this workbook (version {stamp.version}) was sent"
        expected = "a workbook that was sent from here; or your word that it was (--ours)"
        return to_fix("not-recorded", where, message, expected=expected)
    if stamp.owner.surgeon and stamp.owner.surgeon not in site.staff:
        message = "the surgeon whose workbook this is is no longer in Staff"
        found = to_fix("unknown-owner", where, message, expected="the workbook of a surgeon who is in Staff")
        return replace(found, value=stamp.owner.surgeon)
    return None


def clash(site: Site, row: OfficeRow, since: date, office: RowValue | None, now: RowValue | None) -> Problem:
    """The office and the master changed the same row, each in its own way."""
    yours = open_and_hold(office.open, office.hold) if office else "'no longer'"
    day = site.settings.site_clock.day_text(since)
    message = f"you wrote: {want_text(site, office)}; since {day} the card says: {want_text(site, now)}"
    expected = f"what the card says now; or '{MINE_COUNTS}' under 'Keep or drop' if {yours} is still right"
    return _named(to_fix("clash", row.where(NAME), message, expected=expected), row)


def already_so(site: Site, row: OfficeRow, now: RowValue | None, begins: date | None = None) -> Problem:
    """The master was changed meanwhile to what the office wants, for now or from a later day on."""
    since = f" from {site.settings.site_clock.day_text(begins)} on" if begins else ""
    message = f"the card says so already{since}: {want_text(site, now)}"
    return notice("already-so", row.where(NAME), message)


def waits_already(site: Site, proposal: Proposal, waiting: Iterable[Proposal]) -> Iterator[Problem]:
    """Lines for which another return of the same office has a wish that nobody has approved yet."""
    for other in waiting:
        if other.owner != proposal.owner or other.id == proposal.id:
            continue
        wishes = {(one.procedure, one.slot, one.begins): one.after for one in other.changes}
        for change in proposal.changes:
            line = change.procedure, change.slot, change.begins
            if line in wishes:
                message = f"proposal {other.id} waits with a wish for this line too: {want_text(site, wishes[line])}"
                yield notice(
                    "also-waiting", change.where, message, expected="one of the two approved, the other rejected"
                )


def takes_place_of(file: str, former: Proposal) -> Problem:
    """What an office corrected and sent again has all that waited of it before, and more."""
    message = f"proposal {former.id} waits no longer: all its changes are in this one too"
    return notice("taken-over", Where(file=file), message)


def stands_twice(row: OfficeRow, other: OfficeRow) -> Problem:
    """A thing is in two rows of one card."""
    message = f"{row.text(NAME)} is on this card already, in row {other.number}"
    problem = to_fix("stands-twice", row.where(NAME), message, expected="each thing once, with how many in all")
    return replace(_named(problem, row), related=(other.where(NAME),))


def fixed_row(row: OfficeRow, why: str, sent: StampRow | None = None) -> Problem:
    """A row was changed that is not the office's to change."""
    was = sent.shown if sent else ""
    if sent and sent.want:
        was = f"{was}, {open_and_hold(sent.want.open, sent.want.hold)}"
    expected = f"the line as it was{f' ({was})' if was else ''}; ask for the change at the foot of the sheet"
    message = f"this line is fixed here: {why}"
    problem = to_fix("fixed-row", row.where(NAME), message, expected=expected)
    overwritten = sent is not None and plain(row.text(NAME)) != plain(sent.shown)
    return problem if overwritten else _named(problem, row)


def condition_changed(row: OfficeRow, sent: StampRow) -> tuple[Problem, ...]:
    """When a line counts is not for an office to change on a line that was sent; nothing if it was not."""
    if "Only when" not in row.cells or plain(row.text("Only when")) == plain(sent.when):
        return ()
    expected = f"'{sent.when}'" if sent.when else "nothing here"
    message = "when this line counts was changed"
    return (to_fix("condition-changed", row.where("Only when"), message, expected=f"{expected}; or a new line"),)


def empty_request(row: OfficeRow) -> Problem:
    """Something is asked for without saying what."""
    return to_fix("empty-cell", row.where(NAME), "it is not said what is asked for", expected="what it is")


def row_missing(file: str, sheet: str, sent: StampRow) -> Problem:
    """A row that was sent did not come back."""
    message = f"the row of {sent.shown} is missing; the line stays on the card"
    return notice(
        "row-missing", Where(file=file, sheet=sheet), message, expected="a row with 'no longer' if it is to be dropped"
    )


def cannot_be_said(where: Where) -> Problem:
    """Card lines have no way to say a change."""
    return to_fix(
        "cannot-be-said",
        where,
        "card lines cannot say this change together with the others on this card",
        expected="the change written as a request at the foot of the sheet",
    )


def _named(problem: Problem, row: OfficeRow) -> Problem:
    return replace(problem, value=row.text(NAME))
