"""Alerts and patient sizes of cases and of conditions: a word near a known one is a problem, not a word of its own.

They have effect only by being equal. Known are the words of the cards, and those that a rule of the
program or the usual lists know. Cells of the schedule are never quoted: they could hold anything.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache

from picklist.inputs.read_cards import BadLine, bad_line_of
from picklist.inputs.read_schedule import ReadCase
from picklist.inputs.site_reader import SiteReader, escalate
from picklist.letters import bare
from picklist.model.cards import CardLine, Condition, ConditionKind
from picklist.model.schedule import LATEX, SIZE_NOT_KNOWN, SIZE_WORDS, USUAL_SIZES, speaks_of_latex
from picklist.model.sets import InstrumentSet
from picklist.problems import Where
from picklist.tables.near_words import word_meant, word_slip_of

FREE = (ConditionKind.ALERT, ConditionKind.SIZE)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Said:
    """The words of one kind that the cards' conditions (and, of sizes, the sets) use: how often, and where first."""

    spelled: dict[str, str]
    counts: Counter[str]
    wheres: dict[str, Where]

    def add(self, word: str, row: Where, column: str) -> None:
        """Count a word in a column of a row; an empty cell has none."""
        key = bare(word)
        if key:
            self.spelled.setdefault(key, word)
            self.counts[key] += 1
            if key not in self.wheres:
                self.wheres[key] = replace(row, column=column)


def stop_near_words(
    reader: SiteReader, cases: Sequence[ReadCase], lines: Iterable[CardLine], sets: Iterable[InstrumentSet]
) -> None:
    """Stop each live case with an alert or a size that is close to a known one without being it."""
    said = _said(lines)
    for one_set in sets:
        said[ConditionKind.SIZE].add(one_set.size, one_set.where, "size")
    alerts = (LATEX, *said[ConditionKind.ALERT].spelled.values())
    sizes = tuple(said[ConditionKind.SIZE].spelled.values())

    @cache  # the same few words stand at many cases
    def alert_meant(alert: str) -> str:
        return "" if speaks_of_latex(alert) else word_meant(alert, alerts)

    @cache
    def size_meant(size: str) -> str:
        return word_meant(size, sizes) or ("" if _among(size, sizes) else word_slip_of(size, USUAL_SIZES))

    for one in cases:
        if one.case is None or not one.case.is_live:
            continue
        for alert in one.case.alerts:
            meant = alert_meant(alert)
            if meant:
                _stop(reader, one, "alerts", meant, said[ConditionKind.ALERT].wheres.get(bare(meant)))
        meant = size_meant(one.case.patient_size)
        if meant:
            _stop(reader, one, "patient size", meant, said[ConditionKind.SIZE].wheres.get(bare(meant)))


def without_unknown_sizes(
    cases: Sequence[ReadCase], lines: Iterable[CardLine], sets: Iterable[InstrumentSet]
) -> list[ReadCase]:
    """The cases without a text that no card, no set and no usual list knows as a patient size: it could be a name."""
    known = (*SIZE_WORDS, *_said(lines)[ConditionKind.SIZE].spelled.values(), *(one_set.size for one_set in sets))
    return [
        one
        if one.case is None or not one.case.patient_size or _among(one.case.patient_size, known)
        else replace(one, case=replace(one.case, patient_size=SIZE_NOT_KNOWN))
        for one in cases
    ]


def _among(word: str, known: Iterable[str]) -> bool:
    return any(bare(word) == bare(one) for one in known)


def _stop(reader: SiteReader, one: ReadCase, column: str, meant: str, card: Where | None) -> None:
    what = "one of the alerts" if column == "alerts" else "the patient size"
    draft = reader.ledger.report(
        "near word",
        one.row.where(column),
        f"{what} looks like a misspelling of a known word, so no card and no rule would apply",
        expected="the spelling of the cards and rules",
        nearest=(meant,),
        related=(card,) if card else (),
    )
    escalate((draft,), one.number)


def without_near_words(
    reader: SiteReader, cases: Sequence[ReadCase], lines: tuple[CardLine, ...]
) -> tuple[tuple[CardLine, ...], tuple[BadLine, ...]]:
    """The lines whose conditions can be trusted, and those with a word close to a more usual one.

    A word that is on the schedule as well is one of its own.
    """
    said = _said(lines)
    stated = {
        ConditionKind.ALERT: {bare(alert) for one in cases if one.case for alert in one.case.alerts},
        ConditionKind.SIZE: {bare(one.case.patient_size) for one in cases if one.case},
    }
    good: list[CardLine] = []
    bad: list[BadLine] = []
    for line in lines:
        causes = tuple(
            reader.ledger.report(
                "near word",
                replace(line.where, column="only if"),
                "a condition here looks like a misspelling of that of other lines, so it counts apart",
                value=condition.value,
                expected="one spelling everywhere",
                nearest=(usual,),
                related=(said[condition.kind].wheres[bare(usual)],),
            )
            for condition, usual in _unusual(line, said, stated)
        )
        if not causes:
            good.append(line)
        elif line.approved:
            bad.append(bad_line_of(line, causes))
    return tuple(good), tuple(bad)


def _unusual(
    line: CardLine, said: dict[ConditionKind, _Said], stated: dict[ConditionKind, set[str]]
) -> Iterator[tuple[Condition, str]]:
    for condition in line.only_if:
        if condition.kind not in FREE or bare(condition.value) in stated[condition.kind]:
            continue
        words = said[condition.kind]
        count, order = words.counts[bare(condition.value)], list(words.spelled)
        place = order.index(bare(condition.value))
        usual = [
            words.spelled[key]
            for n, key in enumerate(order)
            if words.counts[key] > count or (words.counts[key] == count and n < place)
        ]
        found = word_slip_of(condition.value, usual)
        if found and not speaks_of_latex(condition.value):
            yield condition, found


def _said(lines: Iterable[CardLine]) -> dict[ConditionKind, _Said]:
    said = {kind: _Said(spelled={}, counts=Counter(), wheres={}) for kind in FREE}
    for line in lines:
        for condition in line.only_if:
            if condition.kind in said:
                said[condition.kind].add(condition.value, line.where, "only if")
    return said
