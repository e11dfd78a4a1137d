"""Preference cards: good lines for the model, and bad ones with the cards that they belong to."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from picklist.inputs.known_ids import Causes, fold
from picklist.inputs.site_reader import EVERY, SiteReader, causes_of, value
from picklist.model.cards import CardLine
from picklist.model.catalogue import PICKED, Item
from picklist.model.schedule import Case
from picklist.problems import Severity
from picklist.tables.drafts import Draft
from picklist.tables.nearest import plain
from picklist.tables.rows import Row

TABLE_OF = {"tray": "Trays", "pack": "Packs", "item": "Items"}


@dataclass(frozen=True, slots=True, kw_only=True)
class BadLine:
    """A line that could not be read, and whose cases it stops.

    ``procedures`` and ``surgeons`` are ids, or None for every one; where the line names one that is not
    known they are the nearest known ones, for the line may have been meant for them.
    """

    procedures: frozenset[str] | None
    surgeons: frozenset[str] | None
    begins: date | None
    ends: date | None
    causes: Causes

    def cards(self) -> Iterator[tuple[str | None, str | None]]:
        """The cards that the line may be of, as (procedure, surgeon), None for every."""
        for procedure in (None,) if self.procedures is None else sorted(self.procedures):
            for surgeon in (None,) if self.surgeons is None else sorted(self.surgeons):
                yield procedure, surgeon

    def chosen(
        self,
        all_cases: Sequence[Case],
        by_procedure: Mapping[str, Sequence[Case]],
        by_surgeon: Mapping[str, Sequence[Case]],
    ) -> Iterator[Case]:
        """The cases worth looking at: those of its procedures, else of its surgeons, else all."""
        if self.procedures is not None:
            for procedure in sorted(self.procedures):
                yield from by_procedure.get(procedure, ())
        elif self.surgeons is not None:
            for surgeon in sorted(self.surgeons):
                yield from by_surgeon.get(surgeon, ())
        else:
            yield from all_cases

    def touches(self, procedures: tuple[str, ...], surgeon: str, day: date) -> bool:
        """Whether a case of these procedures and this surgeon on that day would use the line."""
        if (self.begins and day < self.begins) or (self.ends and day > self.ends):
            return False
        if self.surgeons is not None and surgeon not in self.surgeons:
            return False
        return self.procedures is None or not self.procedures.isdisjoint(procedures)


def bad_line_of(line: CardLine, causes: Causes) -> BadLine:
    """A line that was read and cannot be trusted after all."""
    return BadLine(
        procedures=frozenset({line.procedure}) if line.procedure else None,
        surgeons=frozenset({line.surgeon}) if line.surgeon else None,
        begins=line.begins,
        ends=line.ends,
        causes=causes,
    )


def read_cards(reader: SiteReader, items: Mapping[str, Item]) -> tuple[tuple[CardLine, ...], tuple[BadLine, ...]]:
    """Lines of all cards, and the lines that could not be read. A pending line stops nothing."""
    lines: list[CardLine] = []
    bad: list[BadLine] = []
    for row in reader.rows("Cards"):
        thing, no_thing = _thing(reader, row)
        instead, no_instead = _instead(reader, row)
        fields, no_card = reader.fields(row, "Cards", CardLine, thing=thing, instead_of=instead)
        wrong = (*causes_of(row), *no_card, *no_thing, *no_instead)
        wrong = wrong or _meaningless(reader, row, _needs_quantity(row, thing, items))
        if not wrong:
            lines.append(CardLine(**fields, approval_stated="approved" not in row.unstated))
        elif value(row, "approved", True):
            bad.append(
                BadLine(
                    procedures=_meant(reader, row, "procedure", "Procedures", fields.get("procedure")),
                    surgeons=_meant(reader, row, "surgeon", "Staff", fields.get("surgeon")),
                    begins=row.values.get("from"),
                    ends=row.values.get("until"),
                    causes=tuple(dict.fromkeys(wrong)),
                )
            )
    return tuple(lines), tuple(bad)


def _meant(reader: SiteReader, row: Row, column: str, table: str, found: str | None) -> frozenset[str] | None:
    """Whom a bad line is for: the one named, every one, or those that an unknown name may have meant."""
    if found:
        return frozenset({found})
    written = row.values.get(column) or ""
    if not plain(written) or EVERY.nearest(written):
        return None
    names = reader.index(table)
    broken = fold(written) in names.broken
    return frozenset({written}) if broken else frozenset(names.nearest(written))


def _thing(reader: SiteReader, row: Row) -> tuple[str, Causes]:
    if not row.has("kind", "thing"):
        return "", ()
    kind, written = row.values["kind"], row.values["thing"]
    known = reader.index(TABLE_OF[kind]).known.get(fold(written))
    if known is not None:
        return known, ()
    if not (_holds(reader, TABLE_OF[kind], written) or reader.index(TABLE_OF[kind]).open):
        for other, table in TABLE_OF.items():
            if _holds(reader, table, written):
                message = f"'{written}' is {'an' if other == 'item' else 'a'} {other}, and this line says {kind}"
                expected = f"{other}, or the id of another {kind}"
                return "", (
                    reader.wrong(
                        row, "kind", "other kind", message, expected=expected, nearest=(other,), see=("thing",)
                    ),
                )
    return reader.find(row, "thing", TABLE_OF[kind], written)


def _holds(reader: SiteReader, table: str, written: str) -> bool:
    names = reader.index(table)
    return fold(written) in names.known or fold(written) in names.broken


def _instead(reader: SiteReader, row: Row) -> tuple[str, Causes]:
    """What a replace line takes the place of: of the line's own kind first, then of any."""
    written = row.values.get("instead of")
    if not written or "kind" in row.bad:
        return "", ()
    for table in (TABLE_OF[row.values["kind"]], *TABLE_OF.values()):
        known = reader.index(table).known.get(fold(written))
        if known:
            return known, ()
    return reader.find(row, "instead of", TABLE_OF[row.values["kind"]], written)


def _needs_quantity(row: Row, thing: str, items: Mapping[str, Item]) -> bool:
    """Not for what is removed, takes another's place and quantity, or is checked in the room and never picked."""
    if row.values["change"] == "remove" or (row.values["change"] == "replace" and row.values.get("instead of")):
        return False
    return row.values["kind"] != "item" or (thing in items and items[thing].item_class in PICKED)


def _meaningless(reader: SiteReader, row: Row, needs_quantity: bool) -> Causes:
    """What is wrong with a line whose cells are good one by one."""
    values = row.values
    if needs_quantity and not values["open"] and not values["hold"]:
        if row.source.bare:  # one cause of them all, reported once
            return tuple(_need_column(draft) for draft in row.source.bare.values())
        message = "this line asks for none, neither open nor on hold"
        return (
            reader.ledger.report(
                "no quantity", row.where("open"), message, expected="how many; or the change 'remove'"
            ),
        )
    if values.get("from") and values.get("until") and values["until"] < values["from"]:
        message = f"the line ends on {values['until']}, before it begins on {values['from']}"
        expected = "a day on or after 'from'"
        return (reader.wrong(row, "until", "ends before it begins", message, expected=expected, see=("from",)),)
    if values.get("instead of") and values["change"] != "replace":
        message = f"'instead of' is filled in, but the change is '{values['change']}'"
        expected = "the change 'replace', or nothing here"
        return (
            reader.wrong(row, "instead of", "instead without replace", message, expected=expected, see=("change",)),
        )
    return ()


def _need_column(draft: Draft) -> Draft:
    was = draft.problem.severity
    severity = Severity.TO_FIX if was is Severity.NOTICE else was
    draft.change(severity=severity, expected="how many each line asks for; or the change 'remove'")
    return draft
