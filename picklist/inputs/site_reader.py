"""What all builders share: the rows, the ledger of problems, and the ids that are known or broken."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from types import NoneType
from typing import Any, TypeVar, Unpack, get_args, get_type_hints

from picklist.clock import NoSuchTimeError, SiteClock
from picklist.inputs.known_ids import Causes, Names, fold
from picklist.labels.items import ItemsByLabel, NoItemError, speaks_of
from picklist.labels.label import LabelError
from picklist.labels.reading import claims_label, read_label
from picklist.model.catalogue import Item
from picklist.problems import Facts, Severity, Where
from picklist.settings import DateOrder, Settings
from picklist.tables.cells import plain_text
from picklist.tables.columns import Column
from picklist.tables.drafts import Draft, Ledger
from picklist.tables.folder import FolderTables
from picklist.tables.nearest import Candidates
from picklist.tables.parse import SEVERAL
from picklist.tables.rows import Row
from picklist.tables.schema import BY_NAME

M = TypeVar("M")
EVERY = Candidates(("every",))
LOOSE = frozenset({"Rooms", "Places"})  # a site may do without these lists of names


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelFields:
    """The columns of a table whose values a model takes.

    ``plain`` are (field, column, whether the field may be None) of values that are taken as they are parsed;
    ``referring`` are columns of ids of another table, and whether their field may be None.
    """

    plain: tuple[tuple[str, str, bool], ...]
    referring: tuple[tuple[Column, bool], ...]
    vital: frozenset[str]


@cache
def fields_of(model: type, table: str) -> ModelFields:
    """How a row of a table becomes a model."""
    hints = get_type_hints(model)
    columns = (column for column in BY_NAME[table].columns if column.field in hints)
    taken = [(column, NoneType in get_args(hints[column.field])) for column in columns]
    return ModelFields(
        plain=tuple((column.field, column.name, none) for column, none in taken if not column.refers_to),
        referring=tuple((column, none) for column, none in taken if column.refers_to),
        vital=frozenset(column.name for column, _ in taken if column.vital),
    )


@dataclass(slots=True, kw_only=True)
class TableRows:
    """The rows of a table, and what is wrong with its cells."""

    rows: list[Row]
    drafts: list[Draft]


class SiteReader:
    """What all builders work with: rows in, problems out. One serves one reading."""

    def __init__(self, tables: FolderTables, ledger: Ledger) -> None:
        """Take the folder's tables and the ledger; the clock and date order come with the settings."""
        self.tables = tables
        self.ledger = ledger
        self.clock = SiteClock("UTC")
        self.order = DateOrder.ANY
        self.names: dict[str, Names] = {}
        self.known_rows: dict[str, TableRows] = {}  # of tables whose cells were read before
        self.items_by_label = ItemsByLabel(())  # filled once the items are read
        self.case_days: tuple[date, ...] = ()  # of the live cases, once they are read

    def follow(self, settings: Settings | None) -> None:
        """Read times and days from now on as the site's settings say, where there are any."""
        if settings is not None:
            self.clock, self.order = settings.site_clock, settings.date_order

    def rows(self, table: str) -> list[Row]:
        """All rows of a table."""
        known = self.known_rows.get(table)
        if known is None:
            return self.tables.rows(table, self.ledger, self.order)
        self.ledger.drafts += known.drafts
        return known.rows

    def index(self, table: str) -> Names:
        """The ids of a table, to be filled by its builder."""
        names = self.names.get(table)
        if names is None:
            names = self.names[table] = Names(table)
        return names

    def known_names(self) -> dict[str, Names]:
        """The ids of all tables, for a reader to come: how many were looked up before must not show in its answers."""
        for names in self.names.values():
            names.forget_looks()
        return self.names

    def seal(self, table: str) -> None:
        """A table's builder is done: from now on it is known whether an unknown id is a fault of its own."""
        names = self.index(table)
        names.absent = self.tables.why_absent(table)
        given = table in self.tables.grids
        names.open = not given and not names.absent and (table in LOOSE or BY_NAME[table].required)

    def keyed(self, table: str, column: str) -> Iterator[tuple[str, Row, Draft | None]]:
        """(id, row, draft) for rows with a readable id; the draft tells of an id that stood before.

        What the row of a doubled id means is for the builder to decide.
        """
        first: dict[str, Row] = {}
        for row in self.rows(table):
            if column in row.bad:
                continue
            one = row.values[column]
            before = first.setdefault(fold(one), row)
            message = f"'{one}' is in two rows; the first counts"
            yield one, row, None if before is row else self.doubled(before.where(column), row, column, message)

    def by_id(
        self, table: str, model: type[M], more: Callable[[str, Row], Mapping[str, Any]] = lambda _one, _row: {}
    ) -> dict[str, M]:
        """What the rows of a table describe, by id; of a doubled id the first row counts.

        What a row says in a vital cell that cannot be trusted makes its id broken. ``more`` gives the
        fields that no cell holds as they are.
        """
        rows: list[tuple[str, Row]] = []
        names = self.index(table)
        for one, row, again in self.keyed(table, BY_NAME[table].key[0]):
            if again is None:
                names.add(one, value(row, "name", ""))
                rows.append((one, row))
        self.seal(table)
        made: dict[str, M] = {}
        broken: list[tuple[str, Causes]] = []
        for one, row in rows:
            unnamed = {"name": one} if "name" in row.bad else {}
            fields, wrong = self.fields(row, table, model, id=one, **unnamed, **more(one, row))
            if wrong:
                broken.append((one, wrong))
            else:
                made[one] = model(**fields)
        for one, wrong in broken:
            names.break_(one, wrong)
        return made

    def fields(self, row: Row, table: str, model: type, **given: Any) -> tuple[dict[str, Any], Causes]:
        """A row as fields of a model, ids as their tables spell them; and what is wrong in its vital cells.

        Fields that are given are not read from the row. A bad or empty cell leaves its field to the
        model's own default, an id that is unknown and not vital stays as it is typed.
        """
        known, values, bad = fields_of(model, table), row.values, row.bad
        made: dict[str, Any] = {
            field: found
            for field, column, may_be_none in known.plain
            if column in values and ((found := values[column]) is not None or may_be_none)
        }
        wrong = tuple(bad[name] for name in bad if name in known.vital) if bad else ()
        for column, may_be_none in known.referring:
            if column.name in values and column.field not in given:
                found, causes = self._referred(row, column, values[column.name])
                wrong += causes
                if found is not None or may_be_none:
                    made[column.field] = found
        if "(row)" in bad and known.vital:
            wrong += (bad["(row)"],)
        made |= {"where": row.where(), **given}
        return made, tuple(dict.fromkeys(wrong)) if wrong else ()

    def _referred(self, row: Row, column: Column, written: Any) -> tuple[Any, Causes]:
        """What a cell refers to, its problems where it is vital; an unknown id that is not vital stays as it is."""
        if not written:
            return written, ()
        if column.type in SEVERAL:
            several, causes = self.refer_all(row, column.name, column.refers_to)
            return several, causes if column.vital else ()
        found, causes = self.find(row, column.name, column.refers_to, written, every=column.every)
        return (found, causes) if column.vital else (found or written, ())

    def doubled(self, before: Where, row: Row, column: str, message: str, expected: str = "each once") -> Draft:
        """Report what stands a second time in a row."""
        return self.wrong(row, column, "doubled key", message, expected=expected, related=(before,))

    def wrong(
        self, row: Row, column: str, kind: str, message: str, *, see: tuple[str, ...] = (), **facts: Unpack[Facts]
    ) -> Draft:
        """Report what is wrong with a cell, what it holds with it; ``see`` are other columns that take part."""
        facts["related"] = (*facts.get("related", ()), *(row.where(one) for one in see))
        facts.setdefault("value", plain_text(row.values.get(column)))
        return self.ledger.report(kind, row.where(column), message, **facts)

    def refer(self, row: Row, column: str, table: str) -> tuple[str, Causes]:
        """The canonical id that a cell refers to, or what is wrong with it; an empty cell refers to nothing."""
        if column in row.bad:
            return "", (row.bad[column],)
        written = row.values.get(column)
        if not written:
            return "", ()
        return self.find(row, column, table, written)

    def refer_all(self, row: Row, column: str, table: str) -> tuple[tuple[str, ...], Causes]:
        """As ``refer`` for a cell of several ids."""
        if column in row.bad:
            return (), (row.bad[column],)
        found: list[str] = []
        causes: Causes = ()
        for written in row.values.get(column) or ():
            one, wrong = self.find(row, column, table, written)
            causes += wrong
            if one:
                found.append(one)
        return tuple(found), causes

    def find(self, row: Row, column: str, table: str, written: str, *, every: bool = False) -> tuple[str, Causes]:
        """The canonical id for a written one, or the problems that stand in the way; ``every``: that word may do."""
        names = self.index(table)
        known = names.known.get(fold(written))
        if known is not None:
            return known, ()
        if names.open:
            return written, ()
        broken = names.broken.get(fold(written))
        if broken is not None:
            return "", broken
        if names.absent:
            return "", names.absent
        if table == "Items" and self.ledger.today is not None:
            one, wrong = self._labelled(row, column, written, self.ledger.today)
            if one or wrong:
                return (names.known.get(fold(one), ""), names.broken.get(fold(one), ())) if one else ("", wrong)
        return "", (self.unknown(row, column, table, written, every=every),)

    def _labelled(self, row: Row, column: str, written: str, today: date) -> tuple[str, Causes]:
        """The item that a maker's label or a bare GTIN in a cell names, or what is wrong; nothing for another text."""
        try:
            label = read_label(written, today)
            return (self.items_by_label.find(label).id if label else ""), ()
        except NoItemError as none:
            if not claims_label(written) and not none.nearest:  # any number may happen to have a right check digit
                return "", ()
            kind, message, nearest = none.kind, str(none), none.nearest
        except LabelError as error:
            kind, message, nearest = "unreadable label", f"this label cannot be read: {error}", ()
        expected = "the label of an item in Items, or the item's number"
        return "", (self.ledger.report(kind, row.where(column), message, expected=expected, nearest=nearest),)

    def check_label(self, row: Row, column: str, item: Item | None) -> Causes:
        """What is wrong where a label in a row is not of the item that the row names."""
        if row.label is None or item is None or speaks_of(row.label, item):
            return ()
        draft = self.ledger.report(
            "label of another item",
            row.where(column),
            "the label in this row is of another item",
            value=item.id,
            expected="the item of the label, or the label of the item",
        )
        return (draft,)

    def as_written(self, row: Row, column: str, causes: Causes) -> str:
        """An id that its table does not have, where it may be shown: nothing else that was refused goes on."""
        return next((one.problem.value for one in causes if one.problem.where == row.where(column)), "")

    def unknown(self, row: Row, column: str, table: str, written: str, *, every: bool = False) -> Draft:
        """Report an id that its table does not have."""
        nearest = (*(EVERY.nearest(written) if every else ()), *self.index(table).nearest(written))
        lost = tuple(one for one in nearest if one.lstrip("0") == written and one != written)
        return self.ledger.report(
            "unknown id",
            row.where(column),
            "this id has lost its leading zeros" if lost else f"this id is not in {table}",
            value=written,
            expected=f"an id in {table}{', or every' if every else ''}",
            nearest=lost or nearest,
        )

    def instant(self, row: Row, column: str, wall: datetime | None) -> tuple[datetime | None, Causes]:
        """The UTC instant of a wall time in a cell; an hour that the clock skips is a problem."""
        if wall is None:
            return None, ()
        try:
            instant = self.clock.instant(wall.date(), wall.time())
        except NoSuchTimeError:
            return self.clock.at_or_after(wall.date(), wall.time()), (self._no_such_hour(row, column, wall),)
        if self.clock.comes_twice(wall.date(), wall.time()):
            self.ledger.notice(
                "hour comes twice",
                row.where(column),
                f"{wall:%Y-%m-%d %H:%M} comes twice, as the clock is set back that night; the first was taken",
            )
        return instant, ()

    def _no_such_hour(self, row: Row, column: str, wall: datetime) -> Draft:
        later = self.clock.wall(self.clock.at_or_after(wall.date(), wall.time()))
        return self.ledger.report(
            "no such hour",
            row.where(column),
            f"{wall:%Y-%m-%d %H:%M} does not exist, as the clock is set forward in that night",
            value=f"{wall:%H:%M}",
            expected="a time that the clock shows",
            nearest=(f"{later:%H:%M}",),
        )


def causes_of(row: Row, *columns: str) -> Causes:
    """The problems of these cells; of all cells of the row when none is named."""
    if not row.bad:
        return ()
    if not columns:
        return tuple(dict.fromkeys(row.bad.values()))
    return tuple(dict.fromkeys(row.bad[column] for column in (*columns, "(row)") if column in row.bad))


def value(row: Row, column: str, otherwise: Any) -> Any:
    """A cell's value, or something else where it is bad or empty."""
    found = row.values.get(column)
    return otherwise if found is None or found == "" else found


def escalate(causes: Iterable[Draft], case: str) -> None:
    """Let these problems stop a case."""
    for cause in causes:
        if cause.problem.severity not in (Severity.NOTICE, Severity.STOPS_ALL):
            cause.stop(case)


def nowhere_in(table: str, tables: Mapping[str, Any]) -> Where:
    """The place of a table as a whole: its first sheet, or its name alone."""
    grids = tables.get(table)
    return grids[0].where() if grids else Where(file="", sheet=table)
