"""What an office wrote in a row: a want, a word, or what is wrong with it, cell by cell."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from picklist.model.cards import Condition, ConditionKind, ThingKind
from picklist.model.schedule import SIDED, Side, speaks_of_latex
from picklist.problems import Problem, to_fix
from picklist.tables.cells import PRIVATE, CellFlaw, Fault, is_empty
from picklist.tables.forms_schema import CARD_SHEET
from picklist.tables.near_words import word_meant
from picklist.tables.nearest import Candidates, plain
from picklist.tables.parse import ColumnParser, Look, flaw_fault
from picklist.tables.private import kind_of, may_be_quoted
from picklist.upkeep.entries import Entries, Thing, parse_entry
from picklist.upkeep.office_plan import MINE_COUNTS, NO_LONGER
from picklist.upkeep.office_return import OfficeRow
from picklist.upkeep.office_style import HIDDEN
from picklist.upkeep.slots import RowKey, RowValue, settled_conditions
from picklist.upkeep.stamps import StampRow

DROP_WORDS = frozenset({"nolonger", "drop", "dropped", "remove", "removed", "delete", "deleted", "notanymore"})
# Words that mean it and are asked about: 'none' may also mean that there is nothing to say.
NEAR_DROP = frozenset(
    {"none", "no", "stop", "stopped", "out", "off", "end", "cancel", "cancelled", "never", "dontneed"}
)
MINE_WORDS = frozenset({"minecounts", "mine", "keepmine"})


@dataclass(frozen=True, slots=True, kw_only=True)
class RowReading:
    """What a row says: the want (None: not wanted), whether the office insists, and what must be fixed."""

    want: RowValue | None
    insists: bool = False
    problems: tuple[Problem, ...] = ()


class CellReader:
    """Reads the cells of returned rows against one catalogue."""

    def __init__(self, entries: Entries, today: date, said: Iterable[Condition] = ()) -> None:
        """Take the catalogue, the day (a coming date in a note is no date of birth), and the cards' conditions."""
        self._entries = entries
        self._said = tuple(dict.fromkeys((one.kind, one.value) for one in said))
        self._parsers = {
            one.name: ColumnParser(one, look=Look(kind_of(CARD_SHEET, one), today)) for one in CARD_SHEET.columns
        }

    def read_line(self, row: OfficeRow, sent: StampRow) -> RowReading:
        """A row that was sent and came back."""
        flaws = _flaws(row)
        if flaws:
            return RowReading(want=None, problems=flaws)
        if row.is_blank and not row.text("Keep or drop"):
            return RowReading(want=None, problems=(_emptied(row, sent),))
        dropped, insists, wrong = self._word(row)
        thing, fault = self._thing(row, sent)
        problems = [wrong] if wrong else []
        if fault:
            problems.append(_at(row, "Name (number)", fault))
        opened, held, faults = self._amounts(row)
        note, private = self._note(row)
        problems += [*faults, *private]
        if dropped:
            before = sent.want
            raised = opened + held > 0 and (before is None or (opened, held) != (before.open, before.hold))
            if raised and not faults:
                problems.append(_drop_and_amount(row))
        if problems or thing is None:
            return RowReading(want=None, insists=insists, problems=tuple(problems))
        if dropped or not (opened or held):
            return RowReading(want=None, insists=insists)
        return RowReading(
            want=RowValue(kind=thing[0], thing=thing[1], open=opened, hold=held, note=note), insists=insists
        )

    def read_new(self, row: OfficeRow) -> tuple[RowKey | None, RowReading]:
        """A new row: its slot (None when it is not certain) and what is wanted there."""
        flaws = _flaws(row)
        if flaws:
            return None, RowReading(want=None, problems=flaws)
        kind, fault = self._parsers["What"](row.cells.get("What"))
        problems = [_at(row, "What", fault)] if fault else []
        thing, fault = parse_entry(self._entries, row.cells.get("Name (number)"), ThingKind(kind) if kind else None)
        if fault:
            problems.append(_at(row, "Name (number)", fault))
        opened, held, faults = self._amounts(row)
        note, private = self._note(row)
        side, conditions, unclear = self._only_when(row)
        problems += [*faults, *private, *([unclear] if unclear else [])]
        if not faults and not (opened or held):
            problems.append(to_fix("no-quantity", row.where("Open"), NO_QUANTITY, expected="how many, open or hold"))
        if problems or thing is None:
            return None, RowReading(want=None, problems=tuple(problems))
        want = RowValue(kind=thing[0], thing=thing[1], open=opened, hold=held, note=note)
        slot = RowKey(kind=thing[0], thing=thing[1], side=side, only_if=settled_conditions(conditions))
        return slot, RowReading(want=want)

    def read_note(self, row: OfficeRow, header: str) -> tuple[str, tuple[Problem, ...]]:
        """A free text, unless it seems to hold a patient's data."""
        text, fault = self._parsers[header](row.cells.get(header))
        return ("", (_at(row, header, fault),)) if fault else (text, ())

    def _thing(self, row: OfficeRow, sent: StampRow) -> tuple[Thing | None, Fault | None]:
        """What is named; the entry as it was sent stands for what it stood for then.

        Not so in a row that went back with a clash: its stamp says what the card says, not what is shown.
        """
        thing = sent.want or sent.slot
        if not sent.asked and plain(row.text("Name (number)")) == plain(sent.shown) and sent.shown:
            return (thing.kind, thing.thing), None
        return parse_entry(self._entries, row.cells.get("Name (number)"), sent.slot.kind)

    def _amounts(self, row: OfficeRow) -> tuple[int, int, list[Problem]]:
        amounts: list[int] = []
        problems = []
        for header in ("Open", "Hold"):
            raw = row.cells.get(header)
            if plain(row.text(header)) in DROP_WORDS or row.text(header) in ("-", "–"):
                raw = 0
            value, fault = self._parsers[header](raw)
            if fault and plain(row.text(header)) in NEAR_DROP:
                fault = replace(
                    fault, nearest=("0",), expected=f"{fault.expected}; 0 in both, or '{NO_LONGER}', drops it"
                )
            if fault:
                problems.append(_at(row, header, fault))
            amounts.append(value if isinstance(value, int) else 0)
        empty = all(is_empty(row.cells.get(header)) for header in ("Open", "Hold"))
        if empty and not problems and not row.text("Keep or drop"):
            expected = f"how many; or '{NO_LONGER}'"
            problems.append(to_fix("no-quantity", row.where("Open"), NO_QUANTITY, expected=expected))
        return amounts[0], amounts[1], problems

    def _note(self, row: OfficeRow) -> tuple[str, tuple[Problem, ...]]:
        if plain(row.text("Note")) in DROP_WORDS:
            return "", ()
        return self.read_note(row, "Note")

    def _word(self, row: OfficeRow) -> tuple[bool, bool, Problem | None]:
        """Whether the row is dropped, whether the office insists, and a word that is neither."""
        if any(plain(row.text(header)) in DROP_WORDS for header in ("Keep or drop", "Open", "Hold", "Note")):
            return True, False, None
        word = row.text("Keep or drop")
        if plain(word) in MINE_WORDS:
            return False, True, None
        if not word:
            return False, False, None
        drops = plain(word) in NEAR_DROP or Candidates(DROP_WORDS).nearest(word, 1)
        near = (NO_LONGER,) if drops else Candidates((NO_LONGER, MINE_COUNTS)).nearest(word, 1)
        fault = Fault(
            kind="not-a-choice",
            expected=f"nothing, '{NO_LONGER}' or '{MINE_COUNTS}'; anything else belongs under Note",
            nearest=near,
        )
        return False, False, _at(row, "Keep or drop", fault)

    def _only_when(self, row: OfficeRow) -> tuple[Side | None, tuple[Condition, ...], Problem | None]:
        conditions, fault = self._parsers["Only when"](row.cells.get("Only when"))
        if fault:
            return None, (), _at(row, "Only when", fault)
        near = self._near_word(row, conditions)
        if near:
            return None, (), near
        sides = [one for one in conditions if one.kind is ConditionKind.SIDE and not one.negated]
        plain_side = len(sides) == 1 and sides[0].value in SIDED
        if not plain_side:
            return None, conditions, None
        return Side(sides[0].value), tuple(one for one in conditions if one is not sides[0]), None

    def _near_word(self, row: OfficeRow, conditions: tuple[Condition, ...]) -> Problem | None:
        """A condition close to one that the cards have already, and so a word apart from it."""
        for one in conditions:
            known = [value for kind, value in self._said if kind is one.kind]
            meant = "" if speaks_of_latex(one.value) else word_meant(one.value, known)
            if meant and one.kind is not ConditionKind.SIDE:
                text = f"{'not ' if one.negated else ''}{one.kind} {meant}"
                fault = Fault(kind="near word", expected="the spelling of the cards", nearest=(text,))
                return _at(row, "Only when", fault)
        return None


NO_QUANTITY = "this line says neither how many to open nor how many to hold"


def _at(row: OfficeRow, header: str, fault: Fault) -> Problem:
    problem = to_fix(fault.kind, row.where(header), fault.message, expected=fault.expected, nearest=fault.nearest)
    text = "" if fault.kind == PRIVATE else row.text(header)
    return replace(problem, value=text if may_be_quoted(text, fault.nearest) else "")


def _flaws(row: OfficeRow) -> tuple[Problem, ...]:
    """Cells whose value cannot be had: merged with others, an error, a formula that was never computed."""
    flawed = {name: raw for name, raw in row.cells.items() if isinstance(raw, CellFlaw) and name not in HIDDEN}
    return tuple(
        _at(row, name, flaw_fault(raw, "a cell of its own with a plain value")) for name, raw in flawed.items()
    )


def _emptied(row: OfficeRow, sent: StampRow) -> Problem:
    return to_fix(
        "row-emptied",
        row.where("Name (number)"),
        f"this row was emptied; it was {sent.shown}",
        expected=f"'{NO_LONGER}' under 'Keep or drop' to drop the line, or the line as it was",
    )


def _drop_and_amount(row: OfficeRow) -> Problem:
    return to_fix(
        "dropped-with-quantity",
        row.where("Keep or drop"),
        f"this row says both '{NO_LONGER}' and a new quantity",
        expected="one of the two",
    )
