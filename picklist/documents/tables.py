"""The same finished strings as the printed sheets, laid out as tables for the workbook."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from picklist.documents.views.bulk import BulkView
from picklist.documents.views.change_lines import MoveRow
from picklist.documents.views.change_sheet import CartBlock, ChangesView
from picklist.documents.views.conflict_sheet import ConflictsView
from picklist.documents.views.department_sheet import DepartmentView
from picklist.documents.views.evening_sheet import EveningView
from picklist.documents.views.goods_rows import GoodsRow
from picklist.documents.views.labels import LabelsView
from picklist.documents.views.pick_list import PickListView
from picklist.documents.views.put_back import PutBackCart
from picklist.documents.views.shortages import ShortagesView
from picklist.documents.views.stamp import PageFoot
from picklist.documents.views.worklist import Moment, WorklistView
from picklist.documents.workbook import SheetTable
from picklist.wording import NONE
from picklist.wording.lists import CAUTIONS, CAUTIONS_SHEET


def _table(name: str, title: str, stamp: PageFoot, heads: str, rows: Iterable[Sequence[str]]) -> SheetTable:
    return SheetTable(
        name=name,
        title=f"{title} · {stamp.revision}, {stamp.printed}, {stamp.replaces}",
        heads=tuple(heads.split("|")),
        rows=tuple(tuple(row) for row in rows),
    )


def cautions_table(stamp: PageFoot) -> SheetTable:
    """What no list proves, and who decides."""
    return _table(CAUTIONS_SHEET, CAUTIONS_SHEET, stamp, "Read this first", ((caution,) for caution in CAUTIONS))


def evening_table(view: EveningView) -> SheetTable:
    """The carts in order of completion."""
    heads = "Complete by|Room|Start|Case|Surgeon|Procedure|Side|Holds|Alerts|Marks|Revision"
    rows = (
        (
            *(row.complete_by, row.room, row.start, row.case, row.surgeon, row.procedure, row.side, row.holds),
            *(", ".join(row.alerts), ", ".join((*(["ON HOLD"] if row.stopped else []), *row.marks)), row.revision),
        )
        for row in view.carts
    )
    return _table("Evening", view.title, view.stamp, heads, rows)


def pick_list_table(views: Sequence[PickListView], stamp: PageFoot) -> SheetTable:
    """All lines of all carts; the part tells trays, packs, sundries and the rest apart."""
    heads = "Case|Room|Start|Part|Place|Thing|Id|Set or lot|Expiry|Open|Hold|For|Remark"
    rows = ((view.case, view.room, view.start, *line) for view in views for line in _lines(view))
    return _table("Pick lists", "Pick lists", stamp, heads, rows)


def _lines(view: PickListView) -> Iterator[tuple[str, ...]]:
    for reason in view.stopped:
        yield ("ON HOLD", "", reason.message, "", "", "", "", "", "", f"{reason.where}. {reason.fix}")
    for row in view.trays:
        facts = "; ".join(f"{name} {value}" for name, value, _ in row.facts)
        remark = "; ".join(part for part in (facts, row.stand_in, *(s.word for s in row.strips), row.note) if part)
        yield ("tray", "", row.name, row.tray, row.set_id, "", row.open, row.hold, row.side, remark)
    for pack in view.packs:
        for goods in pack.rows:
            yield _goods("pack", goods, "", "holds " + ", ".join(pack.holds) if pack.holds else "")
    for part, groups in (("sundry", view.sundries), ("gloves and gowns", view.people)):
        for group in groups:
            for goods in group.rows:
                yield _goods(part, goods, group.title if part != "sundry" else "")
    for goods in view.peel_packs:
        yield _goods("peel pack", goods, "")
    for part, plain in (
        ("check in the room", view.room_checks),
        ("implant", view.implants),
        ("reference only", view.reference_only),
    ):
        for one in plain:
            yield (part, "", one.name, "", "", "", one.quantity, "–", "", one.note)


def _goods(part: str, row: GoodsRow, person: str, remark: str = "") -> tuple[str, ...]:
    notes = "; ".join(note for note in (f"SHORT: {row.short}" if row.short else "", row.note, remark) if note)
    return (part, row.place, row.name, row.item, row.lot, row.expiry, row.open, row.hold, person, notes)


def labels_table(view: LabelsView) -> SheetTable:
    """What is on each label and in its bar code."""
    heads = "Case|Room|Start|Complete by|Side|Alerts|Bar code"
    rows = ((one.case, one.room, one.start, one.complete_by, one.side, one.alerts, one.code) for one in view.labels)
    return _table("Labels", view.title, view.stamp, heads, rows)


def bulk_table(view: BulkView) -> SheetTable:
    """What to take from each place for all carts."""
    heads = "Area|Place|Item|Id|Lot|Expiry|Total|Open|Hold|To carts|Remark"
    rows = (
        (
            *(group.title, row.place, row.name, row.item, row.lot, row.expiry),
            *(row.total, row.open, row.hold, ", ".join(row.carts), row.note),
        )
        for group in view.groups
        for row in group.rows
    )
    return _table("Bulk", view.title, view.stamp, heads, rows)


def department_table(view: DepartmentView) -> SheetTable:
    """Every act at every station in order of deadline."""
    heads = "Station|Latest|What|Set|Tray|From|For|Last resort|Past"
    rows = (
        (
            *(
                group.title,
                f"{group.day} {row.latest}".strip(),
                row.act,
                row.set_id,
                row.tray,
                row.source,
                row.target,
                row.last_resort,
            ),
            "PAST" if row.past else "",
        )
        for group in view.stations
        for row in group.rows
    )
    return _table("Department", view.title, view.stamp, heads, rows)


def worklist_table(view: WorklistView) -> SheetTable:
    """The loads of each station in the order to start them."""
    heads = "Station|State|Start|End|Machine|Cycle|What goes in|Start at the latest|Late|First due|Rush"
    rows = (
        (
            *(station, "running" if group.runs else "", f"{group.day} {one.begins}", f"{one.ends_day} {one.ends}"),
            *(one.machine, one.cycle, ", ".join(one.sets)),
            *((NONE, "") if group.runs else (_in_full(one.latest, group.day), "LATE" if one.late else "")),
            _in_full(one.first_due, group.day),
            "; ".join(one.rushes),
        )
        for station, groups in view.stations
        for group in groups
        for one in group.rows
    )
    return _table("Worklist", f"{view.title}. {view.rule} {view.ends}", view.stamp, heads, rows)


def _in_full(one: Moment, day: str) -> str:
    """A time with its day, which is that of its group where it names none."""
    return one.time if one.time == NONE else f"{one.day or day} {one.time}"


def ready_table(view: DepartmentView) -> SheetTable:
    """When each set is ready with the whole load."""
    heads = "Set|Tray|From|For|Received|Ready|In today's queue|Due|Late|Waited"
    rows = (
        (
            *(one.set_id, one.tray, one.source, one.target, one.received, one.ready),
            *(one.in_queue, one.due, one.late, one.waited),
        )
        for one in view.runs
    )
    return _table("Sets ready", "When each set is ready", view.stamp, heads, rows)


def conflicts_table(view: ConflictsView) -> SheetTable:
    """Every conflict with proof, decision and remedies."""
    heads = "Cases|No.|Kind|Amount|Decide by|What|Proof|Facts|Remedies|What is missing"
    rows = (
        (
            *(cluster.title, one.number, one.kind, one.amount, one.decide_by, one.statement),
            *(" ".join((one.proof, *one.bound)), " ".join(one.facts)),
            " ".join((*(f"{n}. {r.text} ({r.in_brackets})" for n, r in enumerate(one.remedies, start=1)), one.above)),
            one.missing,
        )
        for cluster in view.clusters
        for one in cluster.conflicts
    )
    return _table("Conflicts", view.title, view.stamp, heads, rows)


def shortages_table(view: ShortagesView) -> SheetTable:
    """Every short item with the cases that lack it."""
    heads = "Item|Id|Wanted|There|Kept back|Expired|Cart by|Case|Missing|May stand in"
    rows = (
        (
            *(row.name, row.item, row.wanted, row.on_hand, row.kept_back, row.expired),
            *(one.complete_by, one.case, one.missing, row.stand_in),
        )
        for row in view.items
        for one in row.lacking
    )
    return _table("Shortages", view.title, view.stamp, heads, rows)


def changes_table(view: ChangesView) -> SheetTable:
    """Every act on every cart that changes, and what its list says otherwise."""
    heads = "Case|Room|Start|What becomes of it|Built|Act|Thing|Id|Set or lot|Expiry|Open|Hold|Place|Other cart|Remark"
    rows = [row for one in (*view.carts, *view.lists) for row in _change_rows(one)]
    rows += [row for one in view.put_back for row in _put_back_rows(one)]
    return _table("Changes", f"{view.title}. {view.counts}", view.stamp, heads, rows)


def _change_rows(one: CartBlock) -> Iterator[tuple[str, ...]]:
    cart = (one.case, one.room, one.start, one.word, "BUILT" if one.built else "")
    yield (*cart, "", "", "", "", "", "", "", "", "", " ".join((one.say, *one.reasons)))
    for act, moves in (("ADD", one.add), ("TAKE OFF", one.take_off), ("STILL MISSING", one.missing)):
        for row in moves:
            yield (*cart, act, *_moved(row))
    for giver, things in one.gives:
        yield (*cart, "TAKES", "; ".join(things), "", "", "", "", "", "", giver, "")
    for stay in one.stays:
        yield (*cart, "MARK", stay.name, "", stay.which, "", "", "", "", "", f"now {stay.now}, was {stay.was}")
    for said in one.head:
        yield (*cart, "SAYS", said.what, "", "", "", "", "", "", "", f"now {said.now}, was {said.was}")
    for other in one.others:
        yield (*cart, "SAYS", "", "", "", "", "", "", "", "", other)


def _put_back_rows(one: PutBackCart) -> Iterator[tuple[str, ...]]:
    cart = (one.case, one.room, one.start, "CANCELLED", "BUILT" if one.built else "")
    yield (*cart, "", "", "", "", "", "", "", "", "", one.say)
    for act, moves in (("HAND OVER", one.to_carts), ("PUT BACK", one.to_places)):
        for row in moves:
            yield (*cart, act, *_moved(row))


def _moved(row: MoveRow) -> tuple[str, ...]:
    return (row.name, row.thing, row.which, row.expiry, row.open, row.hold, row.place, row.cart, row.note)
