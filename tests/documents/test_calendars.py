"""Calendars of deadlines, read back by another library (vobject) than the one that writes them (icalendar).

Rules: RFC 5545, 3.1 (lines of at most 75 octets, CRLF), 3.3.5 (UTC), 3.8.4.7 (UID), 3.8.7.2 (DTSTAMP),
3.8.7.4 (SEQUENCE), 3.8.1.11 (STATUS); RFC 7986, 5.3 (what a UID must not tell).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import vobject

from picklist.documents.calendars import calendars
from picklist.documents.views.department_sheet import DepartmentView
from picklist.documents.views.lookup import Lookup
from picklist.model.conflicts import ConflictKind
from picklist.model.plan import Plan
from tests.documents.findings import rich_plan

MARK = "0123456789abcdef"


def first() -> Plan:
    return rich_plan(revision=1, replaces=None)


def later(hours: int, **changes: object) -> Plan:
    plan = first()
    return replace(plan, now=plan.now + timedelta(hours=hours), revision=1 + hours, replaces=hours, **changes)  # type: ignore[arg-type]


def events(*revisions: Plan) -> dict[str, list[Any]]:
    """The events of each calendar that the revisions of one day leave, as vobject reads them."""
    files = calendars([revisions], MARK)
    return {name: list(vobject.readOne(data.decode()).contents.get("vevent", ())) for name, data in files.items()}


def summaries(found: list[Any]) -> list[str]:
    return [one.summary.value for one in found]


def test_that_there_is_a_calendar_for_the_department_the_coordinator_and_each_room() -> None:
    found = events(first())
    assert {"Department.ics", "Coordinator.ics", "Room OR 2.ics", "Room OR 3.ics"} <= found.keys()
    assert "C-1060: cart complete" in summaries(found["Room OR 2.ics"])
    assert any("out of the room, from C-1041, for C-1047" in text for text in summaries(found["Room OR 3.ics"]))
    assert not any("from C-1041" in text for text in summaries(found["Department.ics"]))
    assert any(text.startswith("Decide: ") for text in summaries(found["Coordinator.ics"]))


def test_that_the_times_are_those_on_the_departments_sheet() -> None:
    plan = first()
    found, ours = Lookup(plan), {cart.case.number for cart in plan.carts}
    sheet = DepartmentView(found)
    printed = {(r.set_id, r.latest) for group in sheet.stations for r in group.rows}
    printed = {pair for pair in printed if any(r.set_id == pair[0] and r.waiter in ours for r in plan.reuses)}
    in_calendars = {
        (one.summary.value.partition(",")[0], found.clock.hhmm(one.dtstart.value))
        for name, some in events(plan).items()
        for one in some
        if name != "Coordinator.ics" and ": cart complete" not in one.summary.value
    }
    assert printed
    assert printed == in_calendars


def test_that_each_event_says_what_the_standard_wants_and_nothing_of_people() -> None:
    plan = first()
    people = {name for cart in plan.carts for name in (cart.surgeon_name, *cart.procedure_names)}
    for data in calendars([[plan]], MARK).values():
        assert all(len(line) <= 75 for line in data.split(b"\r\n"))
        assert b"\n" not in data.replace(b"\r\n", b"")
        text = data.decode().replace("\r\n ", "")
        assert "VERSION:2.0" in text
        assert "PRODID:" in text
        assert not any(name in text for name in people)
        for one in vobject.readOne(data.decode()).contents.get("vevent", ()):
            assert one.dtstart.value.utcoffset() == timedelta(0)
            assert one.dtstamp.value == plan.now
            assert (one.sequence.value, one.status.value) == ("0", "CONFIRMED")
            assert "C-10" not in one.uid.value
    names = [one.uid.value for some in events(plan).values() for one in some]
    assert len(names) == len(set(names))


def of_case(found: dict[str, list[Any]], text: str) -> Any:
    [event] = [one for some in found.values() for one in some if one.summary.value == text]
    return event


def test_that_a_later_cart_moves_its_entry_and_the_sequence_grows_once() -> None:
    """C-1060 is ready an hour later in revision 2; revision 3 says the same again."""
    carts = tuple(
        replace(c, complete_by=c.complete_by + timedelta(hours=1)) if c.case.number == "C-1060" else c
        for c in first().carts
    )
    moved, same = later(1, carts=carts), later(2, carts=carts)
    before, after = (of_case(events(*some), "C-1060: cart complete") for some in ([first()], [first(), moved, same]))
    assert after.uid.value == before.uid.value
    assert after.dtstart.value == before.dtstart.value + timedelta(hours=1)
    assert (before.sequence.value, after.sequence.value) == ("0", "1")
    assert after.dtstamp.value == moved.now


def test_that_a_cancelled_case_cancels_its_entries_and_a_case_that_comes_back_revives_them() -> None:
    gone = later(1, carts=tuple(c for c in first().carts if c.case.number != "C-1060"))
    cancelled = of_case(events(first(), gone), "C-1060: cart complete")
    assert (cancelled.status.value, cancelled.sequence.value) == ("CANCELLED", "1")
    again = of_case(events(first(), gone, later(2)), "C-1060: cart complete")
    assert (again.status.value, again.sequence.value, again.uid.value) == ("CONFIRMED", "2", cancelled.uid.value)


def test_that_each_conflict_about_a_tray_has_a_decision_of_its_own() -> None:
    """A set is in time by little, late in today's queue, and under the number kept ready: three hours to decide by."""
    plan = first()
    cluster, tight = next((c, one) for c in plan.clusters for one in c.conflicts if one.kind is ConflictKind.TIGHT)
    by = tight.decide_by
    assert by
    queue, reserve = (
        replace(tight, id=f"{tight.id}/{kind}", kind=kind, decide_by=by + timedelta(hours=hours))
        for kind, hours in ((ConflictKind.QUEUE, 1), (ConflictKind.RESERVE, 2))
    )
    three = replace(plan, clusters=(replace(cluster, conflicts=(tight, queue, reserve)),))
    found = {one.dtstart.value: one.summary.value for one in events(three)["Coordinator.ics"]}
    assert found.keys() == {one.decide_by for one in (tight, queue, reserve)}
    assert [text.rpartition(" ")[2] for _, text in sorted(found.items())] == ["(tight)", "(queue)", "(reserve)"]


# Texts of the examples of RFC 5545: 3.1 (a long line), 3.3.11 (what must be escaped), 3.8.1.12 and 3.6.1 (summaries).
RFC_TEXTS = (
    "This is a long description that exists on a long line.",
    "Project XYZ Final Review\nConference Room - 3B\nCome Prepared.",
    "Department Party",
    "Annual Employee Review",
    "Laurel is in sensitivity awareness class.",
)


@pytest.mark.parametrize("text", [*RFC_TEXTS, "Set A-1; left, \\ 2 \u00d7 " + "\u00e4" * 80])
def test_that_texts_of_the_standards_examples_are_read_back_by_another_reader(text: str) -> None:
    """Written by icalendar, read by vobject; an example's moment, 1997-07-14 17:00 UTC (3.6.1), comes back too."""
    plan = first()
    moment = datetime(1997, 7, 14, 17, 0, tzinfo=UTC)
    [cart] = [cart for cart in plan.carts if cart.case.number == "C-1060"]
    carts = (replace(cart, case=replace(cart.case, number=text), complete_by=moment),)
    data = calendars([[replace(plan, carts=carts)]], MARK)["Room OR 2.ics"]
    assert all(len(line) <= 75 for line in data.split(b"\r\n"))
    found = {one.summary.value: one.dtstart.value for one in vobject.readOne(data.decode()).contents["vevent"]}
    assert found[f"{text}: cart complete"] == moment


def test_that_the_same_plans_give_the_same_bytes_and_another_site_has_other_names() -> None:
    assert calendars([[first()]], MARK) == calendars([[first()]], MARK)
    own, others = (set(calendars([[first()]], mark).values()) for mark in (MARK, "fedcba9876543210"))
    assert not own & others or all(b"VEVENT" not in data for data in own & others)
