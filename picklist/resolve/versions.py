"""Decide which lines of one layer count on the day of the case: dates, approval, versions, double lines.

Lines of one layer that are about the same thing under the same side and conditions are versions
of one line. Of those whose dates hold, the version with the latest ``from`` counts (a line without
``from`` is older than any with one). When the latest version replaces or removes, the latest
``add`` beneath it is kept for it to act on. Row order never decides.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from picklist.letters import bare
from picklist.model.cards import CardLine, Change, Counted, ThingKind
from picklist.model.catalogue import Item, Pack, Tray
from picklist.model.needs import Pending
from picklist.model.site import Site
from picklist.resolve.being_resolved import CaseBeingResolved
from picklist.resolve.conditions import judge_line
from picklist.wording import card_problems as problems
from picklist.wording.card_words import line_words

Target = tuple[ThingKind, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingLine:
    """A line that stands, what it is about, and the older versions that it makes void."""

    line: CardLine
    target: Target
    older: tuple[CardLine, ...] = ()


def lines_standing(resolving: CaseBeingResolved, lines: tuple[CardLine, ...]) -> list[StandingLine]:
    """The approved lines of a layer that count on the day of the case.

    Pending ones are recorded, and those of which nobody says whether they are approved.
    """
    versions: dict[tuple[object, ...], list[CardLine]] = defaultdict(list)
    for line in lines:
        if not dates_hold(line, resolving.case.day):
            continue
        if line.approved:
            versions[_version_key(line, resolving.site)].append(line)
        elif judge_line(line, resolving.case).counts is not False:
            resolving.pending.append(Pending(text=line_text(line, resolving.site), where=line.where))
    standing = [one for group in versions.values() for one in _latest(resolving, group)]
    resolving.approval_not_stated += [
        one.line.where
        for one in standing
        if not one.line.approval_stated and judge_line(one.line, resolving.case).counts is not False
    ]
    return standing


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
    return thing in _catalogue(site, kind)


def name_of(site: Site, kind: ThingKind, thing: str) -> str:
    """The name of a tray, pack or item as printed; empty where the catalogue does not know it."""
    known = _catalogue(site, kind).get(thing)
    return known.name if known else ""


def _catalogue(site: Site, kind: ThingKind) -> Mapping[str, Tray | Pack | Item]:
    if kind is ThingKind.TRAY:
        return site.trays
    return site.packs if kind is ThingKind.PACK else site.items


def _version_key(line: CardLine, site: Site) -> tuple[object, ...]:
    conditions = frozenset((c.kind, bare(c.value), c.negated) for c in line.only_if)
    return (target_of(line, site), line.side, conditions)


def _latest(resolving: CaseBeingResolved, group: list[CardLine]) -> list[StandingLine]:
    target = target_of(group[0], resolving.site)
    if len(group) == 1:
        return [StandingLine(line=group[0], target=target)]
    newest = max(_begins(line) for line in group)
    current = [line for line in group if _begins(line) == newest]
    older = sorted((line for line in group if _begins(line) < newest), key=_begins)
    kept: list[CardLine] = []
    if all(line.change is not Change.ADD for line in current):
        adds = [line for line in older if line.change is Change.ADD]
        kept = [line for line in adds if _begins(line) == _begins(adds[-1])]
    void = tuple(line for line in older if line not in kept)
    _report_contradiction(resolving, current)
    standing = _without_doubles(resolving, kept) + _without_doubles(resolving, current)
    return [StandingLine(line=line, target=target, older=void) for line in standing]


def _begins(line: CardLine) -> date:
    return line.begins or date.min


def _without_doubles(resolving: CaseBeingResolved, lines: list[CardLine]) -> list[CardLine]:
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
            resolving.note(problems.double_line(largest, same))
    return kept


def _report_contradiction(resolving: CaseBeingResolved, current: list[CardLine]) -> None:
    if len({line.change for line in current}) > 1:
        resolving.note(problems.contradicting_lines(current))


def line_text(line: CardLine, site: Site) -> str:
    """A card line in words, with the name of what it replaces."""
    replaced = line.instead_of if line.change is Change.REPLACE else ""
    return line_words(line, name_of(site, *target_of(line, site)) if replaced else "")
