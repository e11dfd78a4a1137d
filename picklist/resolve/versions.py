"""Decide which lines of one layer count on the day of the case: dates, approval, versions, double lines.

Lines of one layer that are about the same thing under the same side and conditions are versions
of one line. Of those whose dates hold, the version with the latest ``from`` counts (a line without
``from`` is older than any with one). When the latest version replaces or removes, the latest
``add`` beneath it is kept for it to act on. Row order never decides.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping
from datetime import date
from operator import attrgetter

from picklist.letters import bare
from picklist.model.cards import CardLine, Change, Counted, ThingKind
from picklist.model.catalogue import Item, Pack, Tray
from picklist.model.needs import Pending, Reason, ReasonKind
from picklist.model.site import Site
from picklist.problems import Problem
from picklist.resolve.being_resolved import CaseBeingResolved
from picklist.resolve.card_index import LayerOnDay, StandingLine, Target
from picklist.resolve.conditions import judge_line
from picklist.wording import card_problems as problems
from picklist.wording import card_words as words

NOTHING_SAID = LayerOnDay(standing=(), pending=(), notices=())


def lines_standing(resolving: CaseBeingResolved, lines: tuple[CardLine, ...]) -> tuple[StandingLine, ...]:
    """The approved lines of a layer that count on the day of the case.

    Pending ones are recorded, and those of which nobody says whether they are approved.
    """
    layer = _layer_on_day(resolving, lines)
    for notice in layer.notices:
        resolving.note(notice)
    resolving.pending += [
        pending for line, pending in layer.pending if judge_line(line, resolving.case).counts is not False
    ]
    resolving.approval_not_stated += [
        one.line.where
        for one in layer.standing
        if not one.line.approval_stated and judge_line(one.line, resolving.case).counts is not False
    ]
    return layer.standing


def _layer_on_day(resolving: CaseBeingResolved, lines: tuple[CardLine, ...]) -> LayerOnDay:
    """A layer's versions, sorted out once for all cases of a day."""
    if not lines:
        return NOTHING_SAID
    key, known = (id(lines), resolving.case.day), resolving.index.on_days
    if key not in known:
        known[key] = lines, _sort_out(resolving.site, lines, resolving.case.day)
    return known[key][1]


def _sort_out(site: Site, lines: tuple[CardLine, ...], day: date) -> LayerOnDay:
    versions: dict[tuple[object, ...], list[CardLine]] = defaultdict(list)
    pending: list[tuple[CardLine, Pending]] = []
    notices: list[Problem] = []
    for line in lines:
        if not dates_hold(line, day):
            continue
        if line.approved:
            versions[_version_key(line, site)].append(line)
        else:
            pending.append((line, Pending(text=line_text(line, site), where=line.where)))
    standing = [one for group in versions.values() for one in _latest(site, group, notices)]
    return LayerOnDay(standing=tuple(standing), pending=tuple(pending), notices=tuple(notices))


def dates_hold(line: CardLine, day: date) -> bool:
    """Whether a day is within a line's from and until, both days included."""
    return (line.begins is None or line.begins <= day) and (line.ends is None or day <= line.ends)


def target_of(line: CardLine, site: Site) -> Target:
    """What a line is about: its own thing, or what it takes the place of, of whatever kind that is."""
    if not line.instead_of or line.change is not Change.REPLACE:
        return line.kind, line.thing
    kinds = (line.kind, ThingKind.TRAY, ThingKind.PACK, ThingKind.ITEM)
    for kind in kinds:
        if is_known(site, kind, line.instead_of):
            return kind, line.instead_of
    return line.kind, line.instead_of


def is_known(site: Site, kind: ThingKind, thing: str) -> bool:
    """Whether the catalogue holds a tray, pack or item of that id."""
    return thing in catalogue(site, kind)


def name_of(site: Site, kind: ThingKind, thing: str) -> str:
    """The name of a tray, pack or item as printed; empty where the catalogue does not know it."""
    known = catalogue(site, kind).get(thing)
    return known.name if known else ""


_CATALOGUES: Mapping[ThingKind, Callable[[Site], Mapping[str, Tray | Pack | Item]]] = {
    ThingKind.TRAY: attrgetter("trays"),
    ThingKind.PACK: attrgetter("packs"),
    ThingKind.ITEM: attrgetter("items"),
}


def catalogue(site: Site, kind: ThingKind) -> Mapping[str, Tray | Pack | Item]:
    """All trays, packs or items of a site, by id."""
    return _CATALOGUES[kind](site)


def _version_key(line: CardLine, site: Site) -> tuple[object, ...]:
    conditions = frozenset((c.kind, bare(c.value), c.negated) for c in line.only_if)
    return (target_of(line, site), line.side, conditions)


def _latest(site: Site, group: list[CardLine], notices: list[Problem]) -> list[StandingLine]:
    target = target_of(group[0], site)
    if len(group) == 1:
        return [StandingLine(line=group[0], target=target, reasons=_reasons(site, group[0], ()))]
    newest = max(_begins(line) for line in group)
    current = [line for line in group if _begins(line) == newest]
    older = sorted((line for line in group if _begins(line) < newest), key=_begins)
    kept: list[CardLine] = []
    if all(line.change is not Change.ADD for line in current):
        adds = [line for line in older if line.change is Change.ADD]
        kept = [line for line in adds if _begins(line) == _begins(adds[-1])]
    void = tuple(line for line in older if line not in kept)
    if len({line.change for line in current}) > 1:
        notices.append(problems.contradicting_lines(current))
    standing = _without_doubles(kept, notices) + _without_doubles(current, notices)
    return [StandingLine(line=line, target=target, older=void, reasons=_reasons(site, line, void)) for line in standing]


def _reasons(site: Site, line: CardLine, older: tuple[CardLine, ...]) -> tuple[Reason, ...]:
    """Why a line asks for its own quantities: the versions that it makes void, and what it says."""
    said = reason_of(ReasonKind.CARD_LINE, line_text(line, site), line)
    return (*void_versions(site, older, line.open, line.hold), said)


def void_versions(site: Site, older: tuple[CardLine, ...], opened: int, held: int) -> tuple[Reason, ...]:
    """That each older version no longer counts, with the quantities that do."""
    return tuple(
        Reason(
            kind=ReasonKind.REPLACED,
            text=line_text(one, site) + words.LATER_VERSION,
            open=opened,
            hold=held,
            where=one.where,
        )
        for one in older
    )


def reason_of(kind: ReasonKind, text: str, line: CardLine) -> Reason:
    """The reason that a line gives for its quantities."""
    return Reason(kind=kind, text=text, open=line.open, hold=line.hold, where=line.where)


def _begins(line: CardLine) -> date:
    return line.begins or date.min


def _without_doubles(lines: list[CardLine], notices: list[Problem]) -> list[CardLine]:
    """Of lines that say the same with the same note only the largest counts; different notes add up."""
    groups: dict[tuple[object, ...], list[CardLine]] = defaultdict(list)
    for line in lines:
        note = line.note.strip().casefold() if line.change is Change.ADD else ""
        groups[line.change, line.kind, line.thing, note].append(line)
    kept = []
    for same in groups.values():
        largest = max(same, key=lambda line: (line.open + line.hold, line.open, line.counted is Counted.PER_PROCEDURE))
        kept.append(largest)
        if len(same) > 1:
            notices.append(problems.double_line(largest, same))
    return kept


def line_text(line: CardLine, site: Site) -> str:
    """A card line in words, with the name of what it replaces."""
    replaced = line.instead_of if line.change is Change.REPLACE else ""
    return words.line_words(line, name_of(site, *target_of(line, site)) if replaced else "")
