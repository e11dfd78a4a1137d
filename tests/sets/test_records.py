"""A set put back unopened keeps its record; when that ends before the next case it runs its route. Our own days."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from picklist.model.conflicts import ConflictKind
from picklist.model.schedule import Case
from picklist.model.sets import InstrumentSet
from picklist.model.site import Site
from picklist.model.uses import Use
from picklist.sets.case_uses import make_uses
from tests.builders import at, case, copies
from tests.sets.test_conflicts import only, planned, vascular_day, wants, wrist_day

PUT_BACK = timedelta(minutes=15)
ROUTE = timedelta(minutes=190)


def recorded(site: Site, **ends: datetime) -> Site:
    """The site with the ends of its sets' records, by the number of the set."""
    sets = {key: replace(one, recorded_until=ends.get(f"n{key[-2:]}")) for key, one in site.sets.items()}
    return replace(site, sets=sets)


def test_a_set_put_back_unopened_does_not_serve_a_case_after_its_record() -> None:
    # Free 10:15 if case 1 leaves it unopened, but its record ends before 12:00; its route makes it ready at 13:20.
    site = recorded(vascular_day(), n01=at("11:59"))
    plan = planned(site, wants("1", "VASC", 0, 1), wants("2", "VASC", 0, 1))
    conflict = only(plan)
    assert (conflict.kind, conflict.minutes, conflict.depends_on) == (ConflictKind.SHORT, 110, "")


def test_it_does_while_its_record_covers_the_start() -> None:
    site = recorded(vascular_day(), n01=at("12:00"))
    plan = planned(site, wants("1", "VASC", 0, 1), wants("2", "VASC"))
    assert only(plan).kind is ConflictKind.CONDITIONAL
    assert plan.reuses[0].if_unopened_ready == at("10:15")


def test_one_that_is_ready_even_by_its_route_is_not_said_to_be_free_sooner_after_its_record() -> None:
    site = recorded(replace(vascular_day(), cases=(case("1", "07:30", 150), case("2", "15:00", 60))), n01=at("12:00"))
    reuse = planned(site, wants("1", "VASC", 0, 1), wants("2", "VASC")).reuses[0]
    assert (reuse.slack, reuse.if_unopened_ready, reuse.if_unopened_slack) == (70, None, None)


def test_a_set_that_ran_its_route_before_it_is_held_has_a_new_record() -> None:
    # Case 0 opens it; received 02:10, ready 05:20 with a new record, so that case 1 may pass it on unopened.
    night = (case("0", "01:00", 60), *vascular_day().cases)
    site = recorded(replace(vascular_day(), cases=night), n01=at("03:00"))
    plan = planned(site, wants("0", "VASC"), wants("1", "VASC", 0, 1), wants("2", "VASC"), now="00:00")
    assert only(plan).kind is ConflictKind.CONDITIONAL


def test_so_has_one_whose_record_ended_before_the_case_that_holds_it() -> None:
    site = recorded(vascular_day(), n01=at("06:00"))
    plan = planned(site, wants("1", "VASC", 0, 1), wants("2", "VASC"), now="02:00")
    assert only(plan).kind is ConflictKind.CONDITIONAL


def test_the_set_whose_record_lasts_goes_to_the_case_that_may_leave_it_unopened() -> None:
    cases = (case("1", "07:30", 150), case("2", "12:00", 60), case("3", "07:45", 300, "OR 2"))
    for lasting, ending in (("VASC-01", "VASC-02"), ("VASC-02", "VASC-01")):
        site = replace(vascular_day(), cases=cases, sets=copies("VASC", 2))
        site = recorded(site, **{f"n{ending[-2:]}": at("11:00")})
        plan = planned(site, wants("1", "VASC", 0, 1), wants("2", "VASC"), wants("3", "VASC"))
        assert only(plan).kind is ConflictKind.CONDITIONAL
        assert {one.use.case: one.set_id for one in plan.assignments} == {"1": lasting, "2": lasting, "3": ending}


@pytest.mark.parametrize("seed", range(80))
def test_as_many_are_served_and_as_few_hang_on_opening_as_by_trying_every_way(seed: int) -> None:
    draw = random.Random(f"records{seed}")
    starts = sorted(draw.sample(range(0, 1000, 10), draw.randrange(3, 6)))
    cases = tuple(_case(f"{n}", start, draw.randrange(40, 160, 10)) for n, start in enumerate(starts))
    sets = copies("WRIST", draw.randrange(1, 3))
    sets = {key: replace(one, recorded_until=_end(draw)) for key, one in sets.items()}
    site = wrist_day(cases=cases, sets=sets)
    held = [draw.random() < 0.6 for _ in cases]
    needs = tuple(
        wants(one.number, "WRIST", int(not on_hold), int(on_hold)) for one, on_hold in zip(cases, held, strict=True)
    )
    plan = planned(site, *needs)
    opened, on_hold = (
        -sum(bool(one.set_id) for one in plan.assignments if one.use.on_hold is held_too) for held_too in (False, True)
    )
    hanging = sum(one.kind is ConflictKind.CONDITIONAL for one in plan.conflicts)
    uses = list(make_uses(site, needs, site.cases))
    assert (opened, on_hold, hanging) == min(every_way(uses, list(sets.values())))


def _case(number: str, start: int, minutes: int) -> Case:
    return replace(case(number, "06:00", minutes, f"OR {number}"), start=at("06:00") + timedelta(minutes=start))


def _end(draw: random.Random) -> datetime | None:
    return draw.choice([None, at("06:00") + timedelta(minutes=draw.randrange(0, 1000, 10))])


def every_way(uses: list[Use], sets: list[InstrumentSet]) -> Iterator[tuple[int, int, int]]:
    """Uses opened and on hold that are served (negative), and how many hang on opening, for each way from 05:00 on."""
    lines: dict[str, tuple[Use | None, datetime | None]] = {one.id: (None, one.recorded_until) for one in sets}

    def go(rest: list[Use], opened: int, held: int, hanging: int) -> Iterator[tuple[int, int, int]]:
        if not rest:
            yield -opened, -held, hanging
            return
        use = rest[0]
        yield from go(rest[1:], opened, held, hanging)
        for name, (before, record) in list(lines.items()):
            hangs = _hangs(before, record, use)
            if hangs is not None:
                lines[name] = (use, _record_at(before, record, use))
                yield from go(rest[1:], opened + (not use.on_hold), held + use.on_hold, hanging + hangs)
                lines[name] = (before, record)

    yield from go(uses, 0, 0, 0)


def _hangs(before: Use | None, record: datetime | None, use: Use) -> bool | None:
    """Whether a set serves a use only if the one before leaves it unopened; None when it cannot serve it."""
    in_date = record is None or use.starts <= record
    if before is None:
        return False if in_date or at("05:00") + ROUTE <= use.needed else None
    if before.received + ROUTE <= use.needed:
        return False
    return True if before.on_hold and in_date and before.leaves_room + PUT_BACK <= use.needed else None


def _record_at(before: Use | None, record: datetime | None, use: Use) -> datetime | None:
    """The end of the record with which a set serves a use; a new one ends after all uses."""
    runs = (before is not None and not before.on_hold) or (record is not None and use.starts > record)
    return None if runs else record
