"""Cards as a whole: what stops live cases, lines that change nothing, things that are retired."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime

from picklist.grouping import grouped
from picklist.model.cards import CardLine, Change, ConditionKind, ThingKind
from picklist.model.catalogue import Item
from picklist.model.schedule import Case, Side
from picklist.model.site import Site
from picklist.problems import Problem, Severity, Where, to_fix
from picklist.resolve import PlainCards, find_card_faults, resolve_cases

CHANGES_NOTHING = frozenset({"removes nothing", "replaces nothing"})
SAYS_TWICE = frozenset({"double line", "contradicting lines"})


def check_live_cases(site: Site, today: date) -> Iterator[Problem]:
    """Whatever stops a case, or is odd about it, once its cards are resolved."""
    live = [case for case in site.cases if _is_whole(site, case) and case.is_live and case.day >= today]
    for needs in resolve_cases(site, live):
        yield from needs.stopped
        yield from needs.notices


def _is_whole(site: Site, case: Case) -> bool:
    """Not a case that was stopped when it was read: nothing echoes that."""
    if case.number in site.unread.cases:
        return False
    procedures = bool(case.procedures) and all(one in site.procedures for one in case.procedures)
    return procedures and case.surgeon in site.staff and case.minutes > 0


def check_standing_cards(site: Site, today: date) -> Iterator[Problem]:
    """Lines that remove or replace nothing, or say a thing twice, on all cards, whether a case uses them or not.

    Each such line that does not plainly find its thing is tried on an invented case that fulfils its conditions.
    A case that is stopped for another reason hides none of them, so that one run names them all.
    """
    tried: dict[tuple[object, ...], Case] = {}
    lines: dict[tuple[object, ...], list[CardLine]] = defaultdict(list)
    doubled = _lines_in_doubt(site, today)
    acting = {line.where for line in _lines_that_may_miss(site, today)}
    for line in site.card_lines:
        if line.where in doubled or line.where in acting:
            case = _case_for(site, line, today)
            key = (case.procedures, case.surgeon, case.day, case.side, case.sides, case.alerts, case.patient_size)
            tried.setdefault(key, case)
            lines[key].append(line)
    for tried_key, (stopped, notices) in zip(tried, find_card_faults(site, tried.values()), strict=True):
        wheres = {line.where for line in lines[tried_key]}
        for problem in stopped:
            if problem.kind in CHANGES_NOTHING and problem.where in wheres & acting:
                yield replace(problem, severity=Severity.TO_FIX, cases=())
        for problem in notices:
            if problem.kind in SAYS_TWICE and problem.where in wheres:
                yield problem


def _lines_in_doubt(site: Site, today: date) -> set[Where]:
    """Places of lines in force that share their card, thing, side and conditions with another one."""
    alike = grouped(
        ((line.procedure, line.surgeon, line.kind, line.thing, line.side, line.only_if), line.where)
        for line in site.card_lines
        if _in_force(line, today)
    )
    return {where for wheres in alike.values() if len(wheres) > 1 for where in wheres}


def _in_force(line: CardLine, today: date) -> bool:
    return line.approved and (line.ends is None or line.ends >= today)


def _lines_that_may_miss(site: Site, today: date) -> Iterator[CardLine]:
    changing = [one for one in site.card_lines if _changes(one) and _in_force(one, today) and not _is_unread(site, one)]
    plain = PlainCards(site, site.card_lines if changing else ())
    return (line for line in changing if not plain.plainly_finds(line, _first_day(line, today)))


def _changes(line: CardLine) -> bool:
    """Whether a line needs something that it removes or replaces."""
    return line.change is not Change.ADD and line.procedure is not None


def _first_day(line: CardLine, today: date) -> date:
    """The first day from today on that a line counts."""
    return max(today, line.begins) if line.begins else today


def _is_unread(site: Site, line: CardLine) -> bool:
    """Whether a line of the same card could not be read: what this one is about may stand there."""
    owners = ((p, s) for p in (line.procedure, None) for s in (line.surgeon, None))
    return any(owner in site.unread.cards for owner in owners)


def _case_for(site: Site, line: CardLine, today: date) -> Case:
    alerts, sizes, sides = (
        _asked(line, kind) for kind in (ConditionKind.ALERT, ConditionKind.SIZE, ConditionKind.SIDE)
    )
    side = line.side or (Side(sides[0]) if sides else _side_not_barred(line))
    return Case(
        number="",
        day=_first_day(line, today),
        room="",
        start=datetime.fromisoformat("2000-01-01T00:00+00:00"),
        minutes=60,
        surgeon=line.surgeon or "",
        procedures=(line.procedure or next(iter(site.procedures), ""),),
        side=side,
        alerts=tuple(sorted(set(alerts))),
        patient_size=sizes[0] if sizes else "any",
    )


def _asked(line: CardLine, kind: ConditionKind) -> list[str]:
    return [one.value for one in line.only_if if one.kind is kind and not one.negated]


def _side_not_barred(line: CardLine) -> Side:
    barred = {one.value for one in line.only_if if one.kind is ConditionKind.SIDE and one.negated}
    return Side.RIGHT if Side.LEFT.value in barred else Side.LEFT


def check_retired_things(site: Site, today: date) -> Iterator[Problem]:
    """Lines in force that ask for a tray or an item that is retired."""
    for line in site.card_lines:
        if line.change is Change.REMOVE or not line.approved or (line.ends and line.ends < today):
            continue
        thing = site.trays.get(line.thing) if line.kind is ThingKind.TRAY else site.items.get(line.thing)
        if thing is not None and thing.retired:
            yield to_fix(
                "retired thing",
                line.where.at("thing"),
                f"{line.kind.value} {line.thing} is retired, and this line still asks for it",
                value=line.thing,
                expected="what is used now",
                nearest=thing.substitutes[:3] if isinstance(thing, Item) else (),
                related=(thing.where,),
            )
