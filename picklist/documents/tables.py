"""The same finished strings as the printed sheets, laid out as tables for the workbook.

Every word of a view stands in its table; ``tests/documents/test_workbook.py`` names the few that need not.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from picklist import wording
from picklist.documents.views.bulk import BulkView
from picklist.documents.views.change_lines import MoveRow, StayRow
from picklist.documents.views.change_sheet import CartBlock, ChangesView, KindLine, PutBackCart, QuestionBlock
from picklist.documents.views.change_words import SaidRow
from picklist.documents.views.conflict_sheet import ConflictBlock, ConflictsView
from picklist.documents.views.department_sheet import DepartmentView
from picklist.documents.views.evening_sheet import EveningView
from picklist.documents.views.goods_rows import GoodsRow
from picklist.documents.views.labels import LabelsView
from picklist.documents.views.pick_list import PickListView
from picklist.documents.views.shortages import ShortagesView
from picklist.documents.views.stamp import PageFoot
from picklist.documents.views.tray_rows import TrayRow
from picklist.documents.views.worklist import Moment, WorklistView
from picklist.documents.workbook import SheetTable
from picklist.wording import NONE
from picklist.wording.lists import CAUTIONS, CAUTIONS_SHEET

Row = tuple[str, ...]


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
    """The carts in order of completion; those whose row cannot be read are under Open."""
    heads = "Complete by|Room|Start|Case|Surgeon|Procedure|Side|Holds|Alerts|Marks|Revision"
    rows = (
        (
            *(row.complete_by, row.room, row.start, row.case, row.surgeon, row.procedure, row.side, row.holds),
            *(", ".join(row.alerts), ", ".join((*(["ON HOLD"] if row.stopped else []), *row.marks)), row.revision),
        )
        for row in view.carts
    )
    return _table("Evening", view.title, view.stamp, heads, rows)


def open_table(view: EveningView) -> SheetTable:
    """What is open, the soonest first."""
    heads = "By|Past|Kind|Case|Tray or item|Remark"
    rows = ((row.by, "PAST" if row.past else "", row.kind, row.case, row.what, row.note) for row in view.open)
    return _table("Open", f"Open, {view.title}", view.stamp, heads, rows)


def notes_table(evening: EveningView, department: DepartmentView, conflicts: ConflictsView) -> SheetTable:
    """What the sheets say beside their rows, and the settings behind the answers."""
    rows = (
        *(("Evening", said) for said in (evening.counts, evening.which_count, evening.not_counted, evening.to_fix)),
        *(("On hold", f"{case}: see {where}") for case, where in evening.stopped),
        *((one.kind, f"{one.number}: {one.meaning}") for one in evening.conflicts),
        *(("Conflicts", said) for said in (conflicts.counts, conflicts.caution, conflicts.still_sought)),
        *(("Risks", said) for said in conflicts.risk),
        *(("Department", said) for said in (department.counts, *department.awaited, department.in_time)),
        *(("Would help", f"{said}. {department.chance}") for said in department.helps),
        *(("Settings", f"{name}: {value}") for name, value in evening.settings),
    )
    return _table("Notes", "Notes and settings", evening.stamp, "About|Note", (row for row in rows if row[1]))


def pick_list_table(views: Sequence[PickListView], stamp: PageFoot) -> SheetTable:
    """All lines of all carts; the part tells trays, packs, sundries and the rest apart."""
    heads = "Case|Room|Start|Part|Place|Thing|Id|Set or lot|Expiry|Open|Hold|For|Remark"
    rows = ((view.case, view.room, view.start, *line) for view in views for line in _lines(view))
    return _table("Pick lists", "Pick lists", stamp, heads, rows)


def _lines(view: PickListView) -> Iterator[Row]:
    yield from (*_head(view), *_picked(view), *_not_picked(view))


def _head(view: PickListView) -> Iterator[Row]:
    day = f"{view.day}, start is {view.start_means}"
    side = wording.joined(view.side, view.side_says)
    about = wording.joined(side, day, view.about, view.counts, view.notes, view.started)
    yield _said("cart", "; ".join(view.procedures), about, place=f"by {view.complete_by}", person=view.surgeon)
    for alert in view.alerts:
        yield _said("alert", alert.word, "; ".join(alert.notes))
    for reason in view.stopped:
        yield _said("ON HOLD", reason.message, f"{reason.where}. {reason.fix}")


def _picked(view: PickListView) -> Iterator[Row]:
    for row in view.trays:
        yield ("tray", "", row.name, row.tray, row.set_id, "", row.open, row.hold, row.side, _about_tray(row))
    for pack in view.packs:
        for goods in pack.rows:
            yield _goods("pack", goods, "", "holds " + ", ".join(pack.holds) if pack.holds else "")
    for area in view.sundries:
        for goods in area.rows:
            yield _goods("sundry", goods, "", area.title)
    for person in view.people:
        for goods in person.rows:
            yield _goods("gloves and gowns", goods, person.title)
        if person.note:
            yield _said("gloves and gowns", "", person.note, person=person.title)
    for goods in view.peel_packs:
        yield _goods("peel pack", goods, "")


def _not_picked(view: PickListView) -> Iterator[Row]:
    for part, plain in (
        ("check in the room", view.room_checks),
        ("implant", view.implants),
        ("reference only", view.reference_only),
    ):
        for one in plain:
            yield (part, "", one.name, "", "", "", one.quantity, "–", "", one.note)
    for short in view.shorts:
        yield _said("SHORT", short.name, f"{short.missing}; stand-in: {short.stand_in}")
    for said in view.merged:
        yield _said("merged", view.merged_from, said)
    for what, said in view.remarks:
        yield _said("remark", what, said)


def _said(part: str, thing: str, remark: str, place: str = "", person: str = "") -> Row:
    """A line of a list that is not picked."""
    return (part, place, thing, "", "", "", "", "", person, remark)


def _about_tray(row: TrayRow) -> str:
    facts = (f"{name} {value}" for name, value, _ in row.facts)
    strips = (f"{one.word} {one.text} {', '.join(map(' '.join, one.times))}".strip() for one in row.strips)
    return wording.joined(row.mark, *facts, row.stand_in, *strips, row.holder, row.count_sheet, row.weight, row.note)


def _goods(part: str, row: GoodsRow, person: str, remark: str = "") -> Row:
    notes = wording.joined(row.mark, f"SHORT: {row.short}" if row.short else "", row.unit, row.note, remark)
    return (part, row.place, row.name, row.item, row.lot, row.expiry, row.open, row.hold, person, notes)


def labels_table(view: LabelsView) -> SheetTable:
    """What is on each label and in its bar code."""
    heads = "Case|Room|Start|Complete by|Side|Alerts|Bar code|Day|Surgeon|Procedure|Revision"
    rows = (
        (
            *(one.case, one.room, one.start, one.complete_by, one.side, one.alerts, one.code),
            *(one.day, one.surgeon, one.procedure, one.revision),
        )
        for one in view.labels
    )
    return _table("Labels", view.title, view.stamp, heads, rows)


def bulk_table(view: BulkView) -> SheetTable:
    """What to take from each place for all carts: lots, then sets that are on their shelves."""
    heads = "Area|Place|Thing|Id|Lot|Expiry|Total|Open|Hold|To carts|Remark|Unit"
    lots = (
        (
            *(group.title, row.place, row.name, row.item, row.lot, row.expiry),
            *(row.total, row.open, row.hold, ", ".join(row.carts), row.note, row.unit),
        )
        for group in view.groups
        for row in group.rows
    )
    sets = (
        (group.title, one.place, one.tray, one.set_id, NONE, NONE, "1", "", "", one.cart, "", "set")
        for group in view.sets
        for one in group.rows
    )
    return _table("Bulk", f"{view.title}: {view.counts}", view.stamp, heads, (*lots, *sets))


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


def turnaround_table(view: DepartmentView) -> SheetTable:
    """Each set from case to case, then those that the day gives back for later days."""
    heads = "Set|Tray|From|For|Expected|To spare|First act|Latest|Remark"
    now = (
        (
            *(one.set_id, one.tray, one.source, one.target, one.expected, one.slack),
            *next(((first.act, f"{first.day} {first.latest}".strip()) for first in one.steps), ("", "")),
            "; ".join(one.facts),
        )
        for one in view.reuses
    )
    later = (
        (
            *(row.set_id, row.tray, row.source, row.target, "", row.slack),
            *(row.first_act, f"{group.title} {row.first_by}", "for a later day"),
        )
        for group in view.later
        for row in group.rows
    )
    return _table("Turnaround", view.title, view.stamp, heads, (*now, *later))


def worklist_table(view: WorklistView) -> SheetTable:
    """The loads of each station in the order to start them."""
    heads = "Station|State|Start|End|Machine|Cycle|What goes in|Start at the latest|Late|First due|Hurry"
    rows = (
        (
            *(station, "running" if group.runs else "", f"{group.day} {one.begins}", f"{one.ends_day} {one.ends}"),
            *(one.machine, one.cycle, ", ".join(one.sets)),
            *((NONE, "") if group.runs else (_in_full(one.latest, group.day), "LATE" if one.late else "")),
            _in_full(one.first_due, group.day),
            "; ".join(f"{hurry.word} {hurry.text}" for hurry in one.hurries),
        )
        for station, groups in view.stations
        for group in groups
        for one in group.rows
    )
    return _table("Worklist", f"{view.title}: {view.counts}. {view.rule} {view.ends}", view.stamp, heads, rows)


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
    heads = (
        "Cases|No.|Kind|Amount|Decide by|Past|Tray and case|When|What|Proof|Facts|Remedies|What is missing|Of the cases"
    )
    brief = {row.number: row for row in view.overview}
    rows = (
        (
            *(cluster.title, one.number, one.kind, one.amount, one.decide_by),
            *("PAST" if brief[one.number].past else "", brief[one.number].what, brief[one.number].when),
            *(one.statement, " ".join((one.proof, *one.bound)), " ".join(one.facts), _remedies(one)),
            *(one.missing, "; ".join(cluster.cases)),
        )
        for cluster in view.clusters
        for one in cluster.conflicts
    )
    return _table("Conflicts", wording.joined(view.title, view.left_out, by=". "), view.stamp, heads, rows)


def _remedies(one: ConflictBlock) -> str:
    """All remedies with what each costs; that there is none, where no other conflict names one either."""
    named = [f"{n}. {r.text} ({wording.joined(r.kind, r.in_brackets)})" for n, r in enumerate(one.remedies, start=1)]
    return wording.joined(" ".join((*named, one.above or one.no_remedy)).strip(), one.first_loss)


def shortages_table(view: ShortagesView) -> SheetTable:
    """Every short item with the cases that lack it, then the trays that no set can serve."""
    heads = "Thing|Id|Needed in all|In stock|Kept back|Expired|Cart by|Case|Missing|Stand-in, or why"
    items = (
        (
            *(row.name, row.item, row.wanted, row.on_hand, row.kept_back, row.expired),
            *(one.complete_by, one.case, one.missing, row.stand_in),
        )
        for row in view.items
        for one in row.lacking
    )
    trays = ((one.tray, "", "", "", "", "", one.complete_by, one.case, "no set in time", one.why) for one in view.trays)
    return _table("Shortages", f"{view.title}: {view.counts}", view.stamp, heads, (*items, *trays))


def changes_table(view: ChangesView) -> SheetTable:
    """Every act on every cart that changes, what its list says otherwise, and what is to be asked."""
    heads = "Case|Room|Start|What becomes of it|Built|Act|Thing|Id|Set or lot|Expiry|Open|Hold|Place|Other cart|Remark"
    rows = [_all_of(one) for one in view.glance]
    rows += [_about((), "", "", "NOTE", "", note) for note in view.notes]
    rows += [row for one in view.questions for row in _question_rows(one)]
    rows += [row for one in (*view.carts, *view.lists) for row in _change_rows(one)]
    rows += [_about((case,), "UNCHANGED", "", "SET MOVED", one.what, _otherwise(one)) for case, one in view.set_news]
    rows += [row for one in view.put_back for row in _put_back_rows(one)]
    return _table("Changes", f"{view.title}. {view.counts}", view.stamp, heads, rows)


def _about(cart: Sequence[str], word: str, built: str, act: str, thing: str, remark: str, other: str = "") -> Row:
    """A row without a number; ``cart``: as much of case, room and start as is known."""
    return (*cart, *[""] * (3 - len(cart)), word, built, act, thing, *[""] * 6, other, remark)


def _all_of(one: KindLine) -> Row:
    names = ", ".join(f"{name} (BUILT)" if built else name for name, built in one.carts)
    return _about((), one.word, "", "ALL", f"{one.number}: {names}", one.do)


def _otherwise(one: SaidRow | StayRow) -> str:
    return f"now {one.now}, was {one.was}"


def _question_rows(one: QuestionBlock) -> Iterator[Row]:
    for old in one.candidates:
        said = f"before: {old.was}; same: {old.agrees}; different: {old.differs}; build again with {old.answer}"
        yield _about((one.case,), "ASK FIRST", "", "ASK", f"{one.ask} Now {one.now}. It is {old.case}", said)
    yield _about((one.case,), "ASK FIRST", "", "ASK", "It is a new case", f"build again with {one.answer_new}")


def _change_rows(one: CartBlock) -> Iterator[Row]:
    cart = ((one.case, one.room, one.start), one.word, "BUILT" if one.built else "")
    due = f"cart by {one.complete_by}" if one.complete_by else ""
    yield _about(*cart, "", one.surgeon, wording.joined(" ".join((one.say, *one.reasons)), one.which_list, due))
    for act, moves in (("ADD", one.add), ("TAKE OFF", one.take_off), ("STILL MISSING", one.missing)):
        for row in moves:
            yield (*cart[0], *cart[1:], act, *_moved(row))
    for giver, things in one.gives:
        yield _about(*cart, "TAKES", "; ".join(things), "", giver)
    for stay in one.stays:
        yield _about(*cart, "MARK", wording.joined(stay.name, stay.which), _otherwise(stay))
    for said in one.head:
        yield _about(*cart, "SAYS", said.what, _otherwise(said))
    for other in one.others:
        yield _about(*cart, "SAYS", "", other)


def _put_back_rows(one: PutBackCart) -> Iterator[Row]:
    cart = ((one.case, one.room, one.start), "CANCELLED", "BUILT" if one.built else "")
    yield _about(*cart, "", one.surgeon, one.say)
    for act, moves in (("HAND OVER", one.to_carts), ("PUT BACK", one.to_places)):
        for row in moves:
            yield (*cart[0], *cart[1:], act, *_moved(row))


def _moved(row: MoveRow) -> Row:
    return (row.name, row.thing, row.which, row.expiry, row.open, row.hold, row.place, row.cart, row.note)
