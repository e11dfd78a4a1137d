"""The conflict sheet: one entry for each cluster of cases, with proof and remedies."""

from __future__ import annotations

from dataclasses import dataclass, replace

from picklist import wording
from picklist.documents.views.conflict_lines import amount, knock_on
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.stamp import PageFoot, not_counted, printing_of, settings_lines, stamp_for
from picklist.documents.views.time_strips import TimeStrip, time_strip, wanted_use
from picklist.model.conflicts import Cluster, Conflict, ConflictKind, Edit, Remedy
from picklist.model.plan import RemedySearch
from picklist.wording.chances import chance_then, what_is_drawn
from picklist.wording.say_conflicts import CONFIRM, bound_lines, depends_on, proof_opening, saved_at, statement
from picklist.wording.say_remedies import NO_REMEDY, NONE_IN_A_ROW, STILL_SOUGHT

MOST_IN_TITLE = 6
SAVED_AT = frozenset({ConflictKind.RUSH, ConflictKind.CONDITIONAL})
CAUTION = (
    "Every remedy was recalculated on the whole plan. It is only a proposal: someone must accept it. People decide "
    "which of two cases goes first. Immediate-use sterilization is not a planning option; local policy decides."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RemedyRow:
    """One remedy with what it costs, the chance that is left with it and until when it is possible."""

    kind: str
    text: str
    cost: str
    until: str = ""
    risk: str = ""

    @property
    def in_brackets(self) -> str:
        """What it costs, the chance left and until when it is possible, as it follows its text."""
        return "; ".join(part for part in (self.cost, self.risk, self.until) if part)


@dataclass(frozen=True, slots=True, kw_only=True)
class ConflictBlock:
    """One conflict: what, how much, the proof, the picture, and what may be done."""

    kind: str
    amount: str
    decide_by: str
    statement: str
    proof: str
    bound: tuple[str, ...]
    strip: TimeStrip | None
    facts: tuple[str, ...]
    remedies: tuple[RemedyRow, ...]
    missing: str
    first_loss: str = ""  # what is left of its remedies after the first is no longer possible
    number: str = ""  # by which the overview refers to it
    above: str = ""  # remedies that are under an earlier conflict of the group
    no_remedy: str = ""  # what is said in place of remedies where there are none


@dataclass(frozen=True, slots=True, kw_only=True)
class OverviewRow:
    """One conflict in a row: by when to decide, what it is, and what disturbs least; ``past``: too late for it."""

    number: str
    decide_by: str
    past: bool
    kind: str
    what: str
    when: str
    remedy: str
    more: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ClusterBlock:
    """Cases tied together by conflicts."""

    title: str
    cases: tuple[str, ...]
    conflicts: tuple[ConflictBlock, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ConflictsView:
    """All clusters, those that must be decided soonest first."""

    stamp: PageFoot
    title: str
    counts: str
    caution: str
    left_out: str
    overview: tuple[OverviewRow, ...]
    clusters: tuple[ClusterBlock, ...]
    settings: tuple[tuple[str, str], ...]
    risk: tuple[str, ...] = ()  # what the risks are and where they come from
    still_sought: str = ""  # that remedies and risks are not here yet


def conflict_sheet(found: Lookup) -> ConflictsView:
    """An overview in order of decision, then the clusters, those with the earliest decision first."""
    clusters = sorted(found.plan.clusters, key=lambda one: one.urgency)
    numbered = _numbered(clusters)
    blocks = {one.id: conflict_block(found, one, number) for number, one in numbered}
    return ConflictsView(
        stamp=stamp_for(found.plan, printing_of(found.plan), found.clock),
        title=f"Conflicts, {found.clock.day_text(found.day)}",
        counts=f"{wording.counted(len(numbered), 'conflict')} in {wording.counted(len(clusters), 'group')} of cases",
        caution=CAUTION,
        left_out=not_counted(found),
        overview=tuple(
            _overview(found, number, one) for number, one in sorted(numbered, key=lambda two: two[1].urgency)
        ),
        clusters=tuple(
            ClusterBlock(
                title=f"{n}. {_title(cluster.cases)}",
                cases=tuple(_case_line(found, case) for case in cluster.cases),
                conflicts=_each_remedy_once([(one, blocks[one.id]) for one in cluster.by_urgency]),
            )
            for n, cluster in enumerate(clusters, start=1)
        ),
        settings=settings_lines(found.plan.settings),
        risk=what_is_drawn(found.plan.chance) if found.plan.chance else (),
        still_sought=STILL_SOUGHT if found.plan.search is RemedySearch.GOING_ON else "",
    )


def _each_remedy_once(pairs: list[tuple[Conflict, ConflictBlock]]) -> tuple[ConflictBlock, ...]:
    """The blocks of one cluster; a remedy that is under an earlier one is only named under the others."""
    place: dict[tuple[Edit, ...], tuple[str, int]] = {}
    blocks = []
    for one, block in pairs:
        above = [place[remedy.edits] for remedy in one.remedies if remedy.edits in place]
        rows = [row for remedy, row in zip(one.remedies, block.remedies, strict=True) if remedy.edits not in place]
        fresh = [remedy.edits for remedy in one.remedies if remedy.edits not in place]
        place |= {edits: (block.number, n) for n, edits in enumerate(fresh, start=1) if edits}
        blocks.append(replace(block, remedies=tuple(rows), above=_named_above(above)))
    return tuple(blocks)


def _named_above(places: list[tuple[str, int]]) -> str:
    """``Removed also by remedies 1 and 3 of 2.1.``; empty for none."""
    parts = []
    for number in dict.fromkeys(number for number, _ in places):
        mine = [str(n) for one, n in places if one == number]
        parts.append(f"{'remedy' if len(mine) == 1 else 'remedies'} {wording.listed(mine)} of {number}")
    return f"Also solved by {wording.listed(parts)}." if parts else ""


def _numbered(clusters: list[Cluster]) -> list[tuple[str, Conflict]]:
    """``2`` for the only conflict of the second group, ``2.1`` and ``2.2`` where it has more."""
    pairs = []
    for n, cluster in enumerate(clusters, start=1):
        for k, one in enumerate(cluster.by_urgency, start=1):
            pairs.append((f"{n}.{k}" if len(cluster.conflicts) > 1 else f"{n}", one))
    return pairs


def _overview(found: Lookup, number: str, one: Conflict) -> OverviewRow:
    wanted = wanted_use(found, one)
    needed = f"needed {found.when(wanted.needed)}" if wanted else ""
    missing = f" Missing: {one.missing}" if one.missing else ""
    remedy = one.remedies[0].text if one.remedies else f"{NONE_IN_A_ROW[found.plan.search]}{missing}"
    return OverviewRow(
        number=number,
        decide_by=found.when(one.decide_by),
        past=one.decide_by is not None and one.decide_by < found.plan.now,
        kind=one.kind.value.upper(),
        what=f"{found.tray_wanted(one)} for {found.case_in_room(one.waiter)}",
        when="; ".join(part for part in (needed, amount(one)) if part),
        remedy=remedy,
        more="; ".join(
            part
            for part in (f"{len(one.remedies) - 1} more" if len(one.remedies) > 1 else "", first_loss(found, one))
            if part
        ),
    )


def _title(cases: tuple[str, ...]) -> str:
    """The cases by number while they fit a heading, else how many; all are listed beneath it."""
    if len(cases) > MOST_IN_TITLE:
        return f"{len(cases)} cases from {cases[0]} on"
    return f"{'Case' if len(cases) == 1 else 'Cases'} {wording.listed(cases)}"


def _case_line(found: Lookup, number: str) -> str:
    case = found.cases.get(number)
    if case is None:
        return number
    moves = "" if case.may_move else ", fixed time"
    surgeon = found.person(case.surgeon)
    return f"{number}: {case.room}, {found.when(case.start)} for {wording.span(case.minutes)}, {surgeon}{moves}"


def conflict_block(found: Lookup, one: Conflict, number: str = "") -> ConflictBlock:
    """One conflict in finished words, as the sheet and the board tell it."""
    return ConflictBlock(
        kind=one.kind.value.upper(),
        amount=amount(one),
        decide_by=found.when(one.decide_by) if one.decide_by else "",
        statement=statement(one, found.clock),
        proof=proof_opening(one, found.clock),
        bound=bound_lines(one, found.clock),
        strip=time_strip(found, one),
        facts=_facts(found, one),
        remedies=tuple(_remedy(found, remedy) for remedy in one.remedies),
        missing=one.missing,
        first_loss=first_loss(found, one),
        number=number,
        no_remedy="" if one.remedies else NO_REMEDY[found.plan.search],
    )


def first_loss(found: Lookup, one: Conflict) -> str:
    """``after 06:50 only 3 of 5 are left``; empty where all its remedies are possible equally long."""
    loss = one.first_loss
    if loss is None:
        return ""
    verb = "is" if loss[1] == 1 else "are"
    return f"after {found.when(loss[0])} only {loss[1]} of {len(one.remedies)} {verb} left"


def _facts(found: Lookup, one: Conflict) -> tuple[str, ...]:
    facts, said = [], statement(one, found.clock)
    if one.kind in SAVED_AT and one.savings and not any(saving.step in said for saving in one.savings):
        facts.append(f"Time can be saved here: {saved_at(one)}. {CONFIRM}")
    depends = depends_on(one)
    if depends:
        facts.append(f"This depends on {depends}.")
    risk = found.late_in(one)
    if risk:
        blame = f", mostly because of {one.blame}" if one.blame else ""
        facts.append(f"Risk: {risk}{blame}.")
    elif one.blame:
        facts.append(f"Cause: {one.blame}.")
    facts += knock_on(found, one)
    facts += [one.searched] if one.searched else []
    return tuple(facts)


def _remedy(found: Lookup, remedy: Remedy) -> RemedyRow:
    kind = remedy.edits[0].kind.value if remedy.edits else "by hand"
    until = f"possible until {found.when(remedy.until)}" if remedy.until else ""
    return RemedyRow(
        kind=kind, text=remedy.text, cost=remedy.cost or _cost(remedy), until=until, risk=risk_left(found, remedy)
    )


def risk_left(found: Lookup, remedy: Remedy) -> str:
    """``then late in 3 % of simulated days``; empty where nothing was drawn for it."""
    if remedy.chance_left is None:
        return ""
    draws = found.plan.chance.draws if found.plan.chance else found.plan.settings.draws
    return chance_then(draws, remedy.chance_left, remedy.chance_if_hurried)


def _cost(remedy: Remedy) -> str:
    """What a remedy costs, from its numbers, where it does not say so itself."""
    parts = [wording.counted(remedy.cases_touched, "case") + " changed"]
    if remedy.minutes_moved:
        parts.append(f"{wording.span(remedy.minutes_moved)} moved")
    if remedy.overtime:
        parts.append(f"{wording.span(remedy.overtime)} overtime")
    if remedy.delays:
        parts.append(f"delays {wording.listed(remedy.delays)}")
    return "; ".join(parts)
