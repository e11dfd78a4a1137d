"""Turn a card line into working lines, for each side that it asks for, and keep them on the card of a procedure.

A side or a patient size that is not stated is never assumed.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from picklist.model.cards import CardLine, ConditionKind, Counted, ThingKind
from picklist.model.catalogue import ItemClass
from picklist.model.needs import Reason, ReasonKind
from picklist.model.schedule import ONE_SIDE, Side
from picklist.resolve.being_resolved import CaseBeingResolved, WorkingLine
from picklist.resolve.card_index import StandingLine, Target
from picklist.resolve.versions import line_text, void_versions
from picklist.wording import card_words as words
from picklist.wording.card_problems import side_contradicts


def draft_of(standing: StandingLine, side: Side | None) -> WorkingLine:
    """What a line asks for, for one side; made once for all cases of a day."""
    made = standing.drafts.get(side)
    if made is None:
        line = standing.line
        made = standing.drafts[side] = WorkingLine(
            kind=line.kind,
            thing=line.thing,
            open=line.open,
            hold=line.hold,
            side=side,
            counted=line.counted,
            notes=(line.note,) if line.note else (),
            reasons=standing.reasons,
        )
    return made


def draft_instead(
    resolving: CaseBeingResolved, standing: StandingLine, side: Side | None, targets: list[WorkingLine]
) -> WorkingLine:
    """The line that takes the place of others.

    Without quantities of its own it takes theirs over; what was counted per procedure stays so.
    """
    line = standing.line
    takes_over = not (line.open or line.hold) and (line.kind, line.thing) != standing.target
    opened = sum(d.open for d in targets) if takes_over else line.open
    held = sum(d.hold for d in targets) if takes_over else line.hold
    said = line_text(line, resolving.site) + (words.TAKES_OVER if takes_over else "")
    per_procedure = any(d.counted is Counted.PER_PROCEDURE for d in targets)
    reasons = tuple(reason for d in targets for reason in d.reasons)
    last = Reason(kind=ReasonKind.REPLACED, text=said, open=opened, hold=held, where=line.where)
    return WorkingLine(
        kind=line.kind,
        thing=line.thing,
        open=opened,
        hold=held,
        side=side,
        counted=Counted.PER_PROCEDURE if per_procedure else line.counted,
        procedure_pack=line.kind is ThingKind.PACK and any(d.procedure_pack for d in targets),
        notes=(line.note,) if line.note else (),
        reasons=(*reasons, *void_versions(resolving.site, standing.older, opened, held), last),
    )


@dataclass(slots=True)
class Card:
    """The card of one procedure as it is now after some layers.

    ``unmet`` are things that a standing line asks for under a condition that does not hold:
    a line above that removes or replaces them is right to find nothing.
    """

    drafts: dict[tuple[Target, Side | None, Counted], WorkingLine] = field(default_factory=dict)
    unmet: set[Target] = field(default_factory=set)

    def put(self, draft: WorkingLine) -> None:
        """Put a line on the card; quantities of the same thing add up."""
        key = ((draft.kind, draft.thing), draft.side, draft.counted)
        there = self.drafts.get(key)
        self.drafts[key] = there.joined(draft) if there else draft

    def find(self, target: Target, side: Side | None) -> list[WorkingLine]:
        """The lines of a thing; of one side only if a side is given."""
        found = [d for d in self.drafts.values() if (d.kind, d.thing) == target]
        if side in ONE_SIDE:
            found = [d for d in found if d.side in (None, side)]
        return found

    def take(self, draft: WorkingLine) -> None:
        """Take a line off the card."""
        del self.drafts[(draft.kind, draft.thing), draft.side, draft.counted]

    def copy(self) -> Card:
        """The same card, to be changed apart from this one."""
        return Card(drafts=dict(self.drafts), unmet=set(self.unmet))


def sides_wanted(resolving: CaseBeingResolved, line: CardLine) -> tuple[Side | None, ...]:
    """Which sides' sets a line asks for; none at all before the case states its side.

    A tray of which some sets are for one size class only waits for the case to state the size.
    """
    if line.kind is ThingKind.TRAY and line.thing in resolving.index.sized_trays and not resolving.case.patient_size:
        resolving.want_stated(ConditionKind.SIZE, line.where)
    if line.kind is ThingKind.ITEM:
        implant = resolving.site.items[line.thing].item_class is ItemClass.IMPLANT
        return (line.side or _of_procedure(resolving) if implant else None,)
    if line.kind is ThingKind.PACK or not resolving.site.trays[line.thing].sided:
        return (None,)
    stated = resolving.case.side
    if stated is None:
        resolving.want_stated(ConditionKind.SIDE, line.where)
        return ()
    if stated is Side.NOT_SIDED:
        resolving.stop(side_contradicts(resolving.case, line))
        return ()
    if stated is Side.BOTH:
        return (line.side,) if line.side in ONE_SIDE else ONE_SIDE
    return (stated,)


def _of_procedure(resolving: CaseBeingResolved) -> Side | None:
    """The side of the procedure that an implant is for, where not all procedures of the case are on one side."""
    return resolving.case.sided_as if resolving.case.sides else None


def sides_instead(resolving: CaseBeingResolved, line: CardLine, targets: list[WorkingLine]) -> tuple[Side | None, ...]:
    """A sided tray in the place of another is wanted for the same sides."""
    sides = sides_wanted(resolving, line)
    theirs = tuple(side for side in ONE_SIDE if any(d.side is side for d in targets))
    return theirs if theirs and sides and sides[0] is not None else sides
