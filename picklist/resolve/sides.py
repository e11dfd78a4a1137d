"""For which sides a line wants a tray: those of its procedure. Neither a side nor a patient's size is assumed."""

from __future__ import annotations

from dataclasses import replace

from picklist.model.cards import CardLine, ConditionKind, ThingKind
from picklist.model.catalogue import ItemClass
from picklist.model.schedule import ONE_SIDE, Side
from picklist.problems import Problem
from picklist.resolve.desk import Desk, Draft, mending


def sides_wanted(desk: Desk, line: CardLine) -> tuple[Side | None, ...]:
    """Which sides' sets a line asks for; none at all before the case states its side.

    A tray of which some sets are for one size class only waits for the case to state the size.
    """
    if line.kind is ThingKind.TRAY and line.thing in desk.index.sized_trays and not desk.case.patient_size:
        desk.want_stated(ConditionKind.SIZE, line.where)
    if line.kind is ThingKind.ITEM:
        implant = desk.site.items[line.thing].item_class is ItemClass.IMPLANT
        return (line.side or _of_procedure(desk) if implant else None,)
    if line.kind is ThingKind.PACK or not desk.site.trays[line.thing].sided:
        return (None,)
    stated = desk.case.side
    if stated is None:
        desk.want_stated(ConditionKind.SIDE, line.where)
        return ()
    if stated is Side.NOT_SIDED:
        desk.stop(_side_contradicts(desk, line))
        return ()
    if stated is Side.BOTH:
        return (line.side,) if line.side in ONE_SIDE else ONE_SIDE
    return (stated,)


def _of_procedure(desk: Desk) -> Side | None:
    """The side of the procedure that an implant is for, where not all procedures of the case are on one side."""
    return desk.case.sided_as if desk.case.sides else None


def _side_contradicts(desk: Desk, line: CardLine) -> Problem:
    stated = "a procedure of the case" if desk.case.sides else "the case"
    return mending(
        "side contradicts",
        replace(desk.case.where, column="side"),
        f"{stated} is stated to have no side, but tray {line.thing} is left or right",
        expected="left, right or both",
        related=(line.where,),
    )


def sides_instead(desk: Desk, line: CardLine, targets: list[Draft]) -> tuple[Side | None, ...]:
    """A sided tray in the place of another is wanted for the same sides."""
    sides = sides_wanted(desk, line)
    theirs = tuple(side for side in ONE_SIDE if any(d.side is side for d in targets))
    return theirs if theirs and sides and sides[0] is not None else sides
