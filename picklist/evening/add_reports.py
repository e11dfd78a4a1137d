"""Further reports on one cart: each line adds to what was reported before or corrects it; the rest stays."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from typing import Any

from picklist.evening.content import true_facts
from picklist.model.built import (
    LINES,
    BuiltCart,
    MissingThing,
    ReportedFact,
    RowLine,
    TakenItem,
    TrayToCome,
    corrected,
)
from picklist.model.plan import Cart

BETWEEN = "; "


def add_to_report(before: BuiltCart | None, said: BuiltCart, now: datetime) -> BuiltCart:
    """The report on a cart after ``said`` came in at ``now``.

    A line about the same tray, thing, lot or count corrects the earlier line; all other lines stay. A
    missing quantity of 0 says that the thing is there. A cart reported built stays built, at the time
    at which it was built, unless ``said.not_done``.
    """
    if before is None:
        before = BuiltCart(day=said.day, case=said.case, revision=said.revision, at=said.at)
    newly_built = said.done and not before.done
    revision = said.revision if newly_built else max(before.revision, said.revision)
    report, new = (replace(true_facts(one, revision), scanned=one.scanned) for one in (before, said))
    missing = sorted(_of_things(new.missing), key=lambda one: bool(one.person))
    lines: tuple[RowLine, ...] = (*new.sets, *missing, *new.stood_in, *new.counts)
    for line in lines:
        report = report.with_line(line)
    keeps_time = before.done and said.done and said.at == now
    return replace(
        report,
        case=said.case if revision == said.revision else before.case,
        revision=revision,
        at=before.at if keeps_time else said.at,
        done=(before.done or said.done) and not said.not_done,
        by=_and(before.by, said.by, ", "),
        remark=_and(before.remark, said.remark, BETWEEN),
        scanned=corrected(report.scanned, _together(new.scanned)),
        added=corrected(report.added, _together(new.added)),
        where=said.where,
    )


def with_reporters(report: BuiltCart, before: BuiltCart | None, by: str, at: datetime) -> BuiltCart:
    """A report whose new lines say who reported them and when; lines of ``before`` keep what they say."""

    def named(name: str, lines: tuple[ReportedFact, ...]) -> Iterator[ReportedFact]:
        known: tuple[ReportedFact, ...] = getattr(before, name, ())
        for one in lines:
            said = replace(one, by=one.by or by, reported_at=one.reported_at or at)
            yield next((other for other in known if other == one), said)

    return report.with_lines(named)


def of_newer_list(report: BuiltCart, revision: int, cart: Cart) -> BuiltCart:
    """A report that goes on with a newer list of the cart: sets stay where that list names them too, and not later."""
    there = (line for line in cart.trays if line.expected is None or line.expected <= report.at)
    named = {(line.key, line.set_id) for line in there}
    sets = tuple(one for one in report.sets if ((one.tray, one.copy), one.set_id) in named)
    return replace(report, revision=revision, sets=sets)


def with_trays_to_come(report: BuiltCart, before: BuiltCart | None, cart: Cart) -> BuiltCart:
    """A report that names the trays a built cart waits for: expected later than it was built, and not seen since.

    Which they are is settled when the cart is reported built, or built from a newer list; a later plan, in
    which the set has come to its shelf, does not put it on the cart.
    """
    if not report.done:
        return replace(report, to_come=())
    seen = {*report.taken, *report.missing_trays}
    if before is None or not before.done or before.revision < report.revision:
        waits = tuple(
            TrayToCome(tray=line.need.thing, copy=line.copy, set_id=line.set_id, expected=line.expected)
            for line in cart.trays
            if line.set_id and line.expected and line.expected > report.at and not line.in_hand
        )
    else:
        waits = before.to_come
    return replace(report, to_come=tuple(one for one in waits if (one.tray, one.copy) not in seen))


def only_new(report: BuiltCart, before: BuiltCart | None) -> BuiltCart:
    """A report with those lines only that ``before`` does not have, for the check of what it adds."""
    if before is None:
        return report
    return report.with_lines(lambda name, lines: (one for one in lines if one not in getattr(before, name)))


def said_since(report: BuiltCart, was: BuiltCart, now: BuiltCart) -> BuiltCart:
    """A report with what ``now`` says and ``was`` did not: both are for another list of the cart than the report is."""

    def made(name: str, lines: tuple[Any, ...]) -> Iterator[Any]:
        before, after = getattr(was, name), getattr(now, name)
        gone = {one.about for one in before} - {one.about for one in after}
        kept = tuple(one for one in lines if one.about not in gone)
        yield from corrected(kept, (one for one in after if one not in before))

    return replace(now, **{name: getattr(report, name) for name in LINES}).with_lines(made)


def _of_things(missing: tuple[MissingThing, ...]) -> tuple[MissingThing, ...]:
    """What is missing, with the rows of one thing together."""
    totals: Counter[tuple[object, ...]] = Counter()
    for one in missing:
        totals[one.about] += one.quantity
    first = {one.about: one for one in reversed(missing)}
    return tuple(replace(first[key], quantity=1 if first[key].copy and n else n) for key, n in totals.items())


def _together(items: tuple[TakenItem, ...]) -> tuple[TakenItem, ...]:
    """Items of one report with those of the same lot and serial number in one line."""
    counts: Counter[tuple[object, ...]] = Counter()
    for one in items:
        counts[one.about] += one.quantity
    first: dict[tuple[object, ...], TakenItem] = {one.about: one for one in reversed(items)}
    return tuple(replace(first[key], quantity=many) for key, many in counts.items())


def _and(before: str, said: str, between: str) -> str:
    """Both texts, what was said before once only."""
    return between.join(dict.fromkeys(part for text in (before, said) for part in text.split(between) if part))
