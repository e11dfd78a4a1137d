"""The conflict sheet: one entry for each cluster of cases, with proof and remedies."""

from __future__ import annotations

from picklist import wording
from picklist.documents.views.conflict_lines import amount, knock_on
from picklist.documents.views.finished_words import View
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.stamp import not_counted, settings_lines, stamp_for
from picklist.documents.views.time_strips import time_strip, wanted_use
from picklist.model.conflicts import Cluster, Conflict, ConflictKind, Edit, Remedy
from picklist.wording.chances import chance_then, what_is_drawn
from picklist.wording.say_conflicts import CONFIRM, bound_lines, depends_on, proof_opening, saved_at, statement
from picklist.wording.say_remedies import NO_REMEDY, NONE_IN_A_ROW, STILL_SOUGHT, while_sought

MOST_IN_TITLE = 6
SAVED_AT = frozenset({ConflictKind.RUSH, ConflictKind.CONDITIONAL})
CAUTION = (
    "Every remedy was recalculated on the whole plan. It is only a proposal: someone must accept it. People decide "
    "which of two cases goes first. Immediate-use sterilization is not a planning option; local policy decides."
)


class RemedyRow(View):
    """One remedy with what it costs, the chance that is left with it and until when it is possible."""

    def __init__(self, found: Lookup, remedy: Remedy) -> None:
        self.kind = remedy.edits[0].kind.value if remedy.edits else "by hand"
        self.text = remedy.text
        self.cost = remedy.cost or _cost(remedy)
        self.until = f"possible until {found.when(remedy.until)}" if remedy.until else ""
        self.risk = risk_left(found, remedy)

    @property
    def in_brackets(self) -> str:
        """What it costs, the chance left and until when it is possible, as it follows its text."""
        return wording.joined(self.cost, self.risk, self.until)


class ConflictBlock(View):
    """One conflict, as the sheet, the board and the page tell it: the proof, the picture, and what may be done.

    ``number``: by which the overview refers to it; ``first_loss``: what is left of its remedies after the first is no
    longer possible; ``above``: remedies that are under an earlier conflict of the group.
    """

    def __init__(self, found: Lookup, one: Conflict, number: str = "") -> None:
        self.kind = one.kind.value.upper()
        self.amount = amount(one)
        self.decide_by = found.when(one.decide_by) if one.decide_by else ""
        self.statement = statement(one, found.clock)
        self.proof = proof_opening(one, found.clock)
        self.bound = bound_lines(one, found.clock)
        self.strip = time_strip(found, one)
        self.facts = _facts(found, one)
        self.remedies = tuple(RemedyRow(found, remedy) for remedy in one.remedies)
        self.missing = one.missing
        self.first_loss = first_loss(found, one)
        self.number = number
        self.above = ""
        self.no_remedy = "" if one.remedies else NO_REMEDY[found.plan.search]


class OverviewRow(View):
    """One conflict in a row: by when to decide, what it is, and what disturbs least; ``past``: too late for it."""

    def __init__(self, found: Lookup, number: str, one: Conflict) -> None:
        wanted = wanted_use(found, one)
        needed = f"needed {found.when(wanted.needed)}" if wanted else ""
        missing = f" Missing: {one.missing}" if one.missing else ""
        others = f"{len(one.remedies) - 1} more" if len(one.remedies) > 1 else ""
        self.number = number
        self.decide_by = found.when(one.decide_by)
        self.past = one.decide_by is not None and one.decide_by < found.plan.now
        self.kind = one.kind.value.upper()
        self.what = f"{found.tray_wanted(one)} for {found.case_in_room(one.waiter)}"
        self.when = wording.joined(needed, amount(one))
        self.remedy = one.remedies[0].text if one.remedies else f"{NONE_IN_A_ROW[found.plan.search]}{missing}"
        self.more = wording.joined(others, first_loss(found, one))


class ClusterBlock(View):
    """Cases tied together by conflicts."""

    def __init__(self, found: Lookup, number: int, cluster: Cluster) -> None:
        self.title = f"{number}. {_title(cluster.cases)}"
        self.cases = tuple(_case_line(found, case) for case in cluster.cases)
        self.conflicts = tuple(ConflictBlock(found, one, name) for name, one in _numbered(number, cluster))
        _name_each_remedy_once(cluster, self.conflicts)


class ConflictsView(View):
    """An overview in order of decision, then the clusters, those with the earliest decision first.

    ``risk``: what the risks are and where they come from; ``still_sought``: that remedies and risks are not here yet.
    """

    def __init__(self, found: Lookup) -> None:
        clusters = list(enumerate(sorted(found.plan.clusters, key=lambda one: one.urgency), start=1))
        numbered = [pair for n, cluster in clusters for pair in _numbered(n, cluster)]
        self.stamp = stamp_for(found.plan)
        self.title = f"Conflicts, {found.clock.day_text(found.day)}"
        self.counts = (
            f"{wording.counted(len(numbered), 'conflict')} in {wording.counted(len(clusters), 'group')} of cases"
        )
        self.caution = CAUTION
        self.left_out = not_counted(found)
        self.overview = tuple(
            OverviewRow(found, number, one) for number, one in sorted(numbered, key=lambda two: two[1].urgency)
        )
        self.clusters = tuple(ClusterBlock(found, n, cluster) for n, cluster in clusters)
        self.settings = settings_lines(found.plan.settings)
        self.risk = what_is_drawn(found.plan.chance) if found.plan.chance else ()
        self.still_sought = while_sought(found.plan.search, STILL_SOUGHT)


def _name_each_remedy_once(cluster: Cluster, blocks: tuple[ConflictBlock, ...]) -> None:
    """A remedy that is under an earlier block of the cluster is only named under the others."""
    place: dict[tuple[Edit, ...], tuple[str, int]] = {}
    for one, block in zip(cluster.by_urgency, blocks, strict=True):
        above = [place[remedy.edits] for remedy in one.remedies if remedy.edits in place]
        rows = [row for remedy, row in zip(one.remedies, block.remedies, strict=True) if remedy.edits not in place]
        fresh = [remedy.edits for remedy in one.remedies if remedy.edits not in place]
        place |= {edits: (block.number, n) for n, edits in enumerate(fresh, start=1) if edits}
        block.remedies, block.above = tuple(rows), _named_above(above)


def _named_above(places: list[tuple[str, int]]) -> str:
    """``Removed also by remedies 1 and 3 of 2.1.``; empty for none."""
    parts = []
    for number in dict.fromkeys(number for number, _ in places):
        mine = [str(n) for one, n in places if one == number]
        parts.append(f"{'remedy' if len(mine) == 1 else 'remedies'} {wording.listed(mine)} of {number}")
    return f"Also solved by {wording.listed(parts)}." if parts else ""


def _numbered(n: int, cluster: Cluster) -> list[tuple[str, Conflict]]:
    """``2`` for the only conflict of the second group, ``2.1`` and ``2.2`` where it has more."""
    several = len(cluster.conflicts) > 1
    return [(f"{n}.{k}" if several else f"{n}", one) for k, one in enumerate(cluster.by_urgency, start=1)]


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


def first_loss(found: Lookup, one: Conflict) -> str:
    """``after 06:50 only 3 of 5 are left``; empty where all its remedies are possible equally long."""
    loss = one.first_loss
    if loss is None:
        return ""
    verb = "is" if loss[1] == 1 else "are"
    return f"after {found.when(loss[0])} only {loss[1]} of {len(one.remedies)} {verb} left"


def _facts(found: Lookup, one: Conflict) -> tuple[str, ...]:
    facts, said = [], statement(one, found.clock)
    helps = one.facts is None or one.facts.reuse is None or one.facts.reuse.least_slack >= 0
    if helps and one.kind in SAVED_AT and one.savings and not any(saving.step in said for saving in one.savings):
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
