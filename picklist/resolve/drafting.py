"""A draft from a card line, with the reasons that came before it."""

from __future__ import annotations

from picklist.model.cards import CardLine, Counted, ThingKind
from picklist.model.needs import Reason, ReasonKind
from picklist.model.schedule import Side
from picklist.model.site import Site
from picklist.resolve.desk import Desk, Draft
from picklist.resolve.versions import Standing, line_text


def draft_of(desk: Desk, standing: Standing, side: Side | None) -> Draft:
    """What a line asks for, for one side."""
    line = standing.line
    last = reason_of(ReasonKind.CARD_LINE, line_text(line, desk.site), line)
    reasons = (*_void_versions(desk.site, standing, line.open, line.hold), last) if standing.older else (last,)
    return Draft(
        kind=line.kind,
        thing=line.thing,
        open=line.open,
        hold=line.hold,
        side=side,
        counted=line.counted,
        notes=(line.note,) if line.note else (),
        reasons=reasons,
    )


def draft_instead(desk: Desk, standing: Standing, side: Side | None, targets: list[Draft]) -> Draft:
    """The draft that takes the place of others.

    Without quantities of its own it takes theirs over; what was counted per procedure stays so.
    """
    line = standing.line
    takes_over = not (line.open or line.hold) and (line.kind, line.thing) != standing.target
    opened = sum(d.open for d in targets) if takes_over else line.open
    held = sum(d.hold for d in targets) if takes_over else line.hold
    words = line_text(line, desk.site) + ("; with the quantities of what it replaces" if takes_over else "")
    per_procedure = any(d.counted is Counted.PER_PROCEDURE for d in targets)
    reasons = tuple(reason for d in targets for reason in d.reasons)
    last = Reason(kind=ReasonKind.REPLACED, text=words, open=opened, hold=held, where=line.where)
    return Draft(
        kind=line.kind,
        thing=line.thing,
        open=opened,
        hold=held,
        side=side,
        counted=Counted.PER_PROCEDURE if per_procedure else line.counted,
        procedure_pack=line.kind is ThingKind.PACK and any(d.procedure_pack for d in targets),
        notes=(line.note,) if line.note else (),
        reasons=(*reasons, *_void_versions(desk.site, standing, opened, held), last),
    )


def _void_versions(site: Site, standing: Standing, opened: int, held: int) -> tuple[Reason, ...]:
    return tuple(
        Reason(
            kind=ReasonKind.REPLACED,
            text=f"{line_text(older, site)}; a later version counts",
            open=opened,
            hold=held,
            where=older.where,
        )
        for older in standing.older
    )


def reason_of(kind: ReasonKind, text: str, line: CardLine) -> Reason:
    """That a line asks for its quantities."""
    return Reason(kind=kind, text=text, open=line.open, hold=line.hold, where=line.where)
