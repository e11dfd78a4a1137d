"""One set along the day: in the room above, in the department below, and what must happen by when.

And the trays in trouble: their sets, and the cases that go without.
"""

from __future__ import annotations

from datetime import datetime

from picklist import wording
from picklist.clock import minutes_between, shift
from picklist.documents.board.axis import Axis, lanes
from picklist.documents.board.index import BoardIndex, kinds_of
from picklist.documents.board.set_ways import SetWay, way_of
from picklist.documents.views.finished_words import View
from picklist.letters import natural_key
from picklist.model.conflicts import Conflict, ConflictKind
from picklist.model.department import StepRun
from picklist.model.sets import NEVER_AVAILABLE, InstrumentSet, SetState
from picklist.model.uses import Assignment, Pace, StepTime
from picklist.wording.say_department import waiting
from picklist.wording.set_states import until_here

CART, BOUND, HAUL, WAIT, STEP, READY, BARRED, LATE, WANTED = (
    "cart", "bound", "haul", "wait", "step", "ready", "barred", "late", "wanted",
)  # fmt: skip


class DaySpan(View):
    """A stretch of a set's day. ``half`` is 1 or 2 where steps run beside each other, else 0."""

    def __init__(
        self,
        axis: Axis,
        kind: str,
        stretch: tuple[datetime, datetime],
        text: str,
        title: str,
        half: int = 0,
        href: str = "",
    ) -> None:
        begins, ends = stretch
        self.kind = kind
        self.left = axis.at(begins)
        self.width = round(axis.at(ends) - self.left, 2)
        self.text = text
        self.title = title
        self.half = half
        self.href = href


class Mark(View):
    """An instant of a set's day.

    Its kind is needed, ready, sooner (ready in today's queue, where that is sooner), unopened (ready if
    it stays unopened) or deadline (the latest of an act).
    """

    def __init__(self, axis: Axis, kind: str, instant: datetime, text: str, title: str) -> None:
        self.kind = kind
        self.at = axis.at(instant)
        self.text = text
        self.title = title


def on_board(pieces: list[DaySpan]) -> tuple[DaySpan, ...]:
    """The pieces of which something is seen."""
    return tuple(one for one in pieces if one.width > 0)


class SetBars(View):
    """One set over the board's stretch of time; ``label`` says its whole day in words."""

    def __init__(self, index: BoardIndex, set_id: str) -> None:
        uses = index.uses_of.get(set_id, ())
        givers = dict.fromkeys(("", *index.givers_of.get(set_id, ()), *(a.use.case for a in uses)))
        ways = [way for giver in givers if (way := way_of(index, set_id, giver))]
        pieces = [one for a in uses for one in _in_room(index, a)]
        pieces += [one for way in ways for one in _in_department(index, way)]
        pieces += [*_lying_ready(index, set_id, uses, ways), *_barred(index, set_id)]
        marks = [one for way in ways for one in _marks(index, way)]
        marks += [Mark(index.axis, "needed", a.use.needed, "", f"needed for {a.use.case}") for a in uses]
        self.set_id = set_id
        self.note = _note(index.sets.get(set_id))
        self.label = _in_words(index, set_id, uses, ways)
        self.pieces = on_board(pieces)
        self.marks = tuple(one for one in marks if 0 < one.at < 100)


def _in_room(index: BoardIndex, given: Assignment) -> list[DaySpan]:
    """On the cart, in the room, and on the way to decontamination."""
    use, axis, when = given.use, index.axis, index.found.when
    held = " held" if use.on_hold else ""
    title = f"{use.case}{held}, in the room {when(use.starts)} to {when(use.leaves_room)}"
    on_cart = f"on the cart of {use.case} by {when(use.needed)}"
    way = way_of(index, given.set_id, use.case)
    received = when(way.received if way else use.received)
    said, href = f"{index.short(use.case)}{held}", index.case_ref(use.case).href
    return [
        DaySpan(axis, CART, (use.needed, use.starts), when(use.needed), on_cart),
        DaySpan(axis, BOUND, (use.starts, use.leaves_room), said, title, href=href),
        DaySpan(axis, HAUL, (use.leaves_room, use.received), "", f"in decontamination {received}"),
    ]


def _in_department(index: BoardIndex, way: SetWay) -> list[DaySpan]:
    taken = lanes([(step.begins, step.ends) for step in way.steps])
    pieces = [one for step, lane in zip(way.steps, taken, strict=True) for one in _step(index, way, step, lane)]
    return [*pieces, *_late(index, way)]


def _late(index: BoardIndex, way: SetWay) -> list[DaySpan]:
    """From needed until ready."""
    if way.due is None or way.ready <= way.due:
        return []
    late = wording.at_pace(wording.to_spare(minutes_between(way.ready, way.due)), way.pace)
    return [DaySpan(index.axis, LATE, (way.due, way.ready), "", f"{late} for {way.waiter}")]


def _step(index: BoardIndex, way: SetWay, step: StepRun | StepTime, lane: int) -> list[DaySpan]:
    """A step with the wait before it; steps that run beside each other take half the height."""
    axis, when = index.axis, index.found.when
    place = f" ({step.station})" if step.station else ""
    title = f"{step.step}{place}, {when(step.begins)} to {when(step.ends)}"
    beside = any(o is not step and o.begins < step.ends and step.begins < o.ends for o in way.steps)
    half = 1 + min(lane, 1) if beside else 0
    pieces = [DaySpan(axis, STEP, (step.begins, step.ends), step.step, title, half=half)]
    if isinstance(step, StepRun) and (waits := waiting(step, index.found.clock)):
        pieces.insert(0, DaySpan(axis, WAIT, (step.arrives, step.begins), "", f"waits {waits}"))
    return pieces


def _marks(index: BoardIndex, way: SetWay) -> list[Mark]:
    axis, when = index.axis, index.found.when
    marks = [Mark(axis, "ready", way.ready, when(way.ready), f"ready {wording.at_pace(when(way.ready), way.pace)}")]
    if way.queue_ready and way.queue_ready != way.ready:
        queue = wording.at_pace(when(way.queue_ready), Pace.QUEUE)
        marks.append(Mark(axis, "sooner", way.queue_ready, "", f"ready {queue}"))
    if way.unopened_ready:
        unopened = f"ready {when(way.unopened_ready)} if left unopened"
        marks.append(Mark(axis, "unopened", way.unopened_ready, "", unopened))
    latest = [(one.latest, f"{one.act}: latest {when(one.latest)}") for one in way.deadlines]
    return marks + [Mark(axis, "deadline", instant, "", title) for instant, title in latest]


def _lying_ready(index: BoardIndex, set_id: str, uses: tuple[Assignment, ...], ways: list[SetWay]) -> list[DaySpan]:
    """Stretches in which the set waits for its next case, from ready until it is needed."""
    known, axis = index.sets.get(set_id), index.axis
    readies: list[tuple[datetime, datetime, Pace | None]] = [(way.released, way.ready, way.pace) for way in ways]
    if known and known.state is SetState.ON_SHELF and not (ways and ways[0].giver == ""):
        readies.append((axis.begins, axis.begins, None))
    pieces = []
    for released, ready, pace in readies:
        needed = min([a.use.needed for a in uses if a.use.received > released], default=axis.ends)
        if ready < needed:
            pieces.append(
                DaySpan(
                    axis, READY, (ready, needed), "", f"ready from {wording.at_pace(index.found.when(ready), pace)}"
                )
            )
    return pieces


def _barred(index: BoardIndex, set_id: str) -> list[DaySpan]:
    """The stretch in which a set cannot be had: away, or unfit until someone looks at it."""
    known, axis = index.sets.get(set_id), index.axis
    if known is None:
        return []
    if known.state in NEVER_AVAILABLE:
        text = f"{known.state.value}: not planned for use"
        return [DaySpan(axis, BARRED, (axis.begins, axis.ends), text, text)]
    if known.back_at and known.back_at > axis.begins:
        text = until_here(known, index.found.when(known.back_at))
        return [DaySpan(axis, BARRED, (axis.begins, known.back_at), text, text)]
    return []


def _note(known: InstrumentSet | None) -> str:
    if known is None:
        return ""
    parts = [wording.small_side(known.side), known.size, "" if known.state is SetState.ON_SHELF else known.state.value]
    return wording.joined(*parts, by=", ")


def _in_words(index: BoardIndex, set_id: str, uses: tuple[Assignment, ...], ways: list[SetWay]) -> str:
    when = index.found.when
    told = [(a.use.starts, f"with {a.use.case} from {when(a.use.starts)} to {when(a.use.leaves_room)}") for a in uses]
    told += [(way.ready, f"ready {wording.at_pace(when(way.ready), way.pace)}") for way in ways]
    shown = [text for moment, text in sorted(told) if moment < index.axis.ends]
    return f"{set_id}: {'; '.join(shown) or 'no case that day'}"


class WantRow(View):
    """A case that goes without: what it wants and for how long no set is there."""

    def __init__(self, index: BoardIndex, one: Conflict) -> None:
        cart, axis = index.carts[one.waiter], index.axis
        needed = index.needed(one) or cart.complete_by
        wants = f"{one.waiter} needs one by {index.found.when(needed)}"
        short = f"{wording.span(one.minutes)} short" if one.minutes else ""
        pieces = [DaySpan(axis, WANTED, (needed, index.ends(cart)), f"{index.short(one.waiter)} needs one", wants)]
        if short:
            pieces.insert(0, DaySpan(axis, LATE, (needed, shift(needed, one.minutes)), short, short))
        self.case = index.case_ref(one.waiter)
        self.label = f"{wants}, {short}" if short else wants
        self.pieces = on_board(pieces)


class TrayGroup(View):
    """A tray in trouble; ``find`` is what a search looks in."""

    def __init__(self, index: BoardIndex, tray: str) -> None:
        conflicts = [one for one in index.conflicts if one.tray == tray]
        sets = _sets_of(index, tray, conflicts)
        kept = next((one.keep_ready for one in index.plan.trays if one.id == tray), 0)
        note = wording.counted(len(index.sets_of.get(tray, ())), "set")
        cases = dict.fromkeys(case for one in conflicts for case in (*one.givers, one.waiter))
        wanting = [one for one in conflicts if one.kind is ConflictKind.SHORT and one.waiter in index.carts]
        self.tray = index.tray_ref(tray)
        self.key = index.tray_ref(tray).href[1:]
        self.kinds = kinds_of(conflicts)
        self.note = f"{note}, {kept} kept ready" if kept else note
        self.wants = tuple(WantRow(index, one) for one in wanting)
        self.sets = tuple(SetBars(index, one) for one in sets)
        self.find = " ".join([index.found.tray(tray), tray, *sets, *cases])


def tray_groups(index: BoardIndex) -> tuple[TrayGroup, ...]:
    """The trays of the conflicts by name, each with its sets."""
    return tuple(TrayGroup(index, tray) for tray in index.troubled)


def _sets_of(index: BoardIndex, tray: str, conflicts: list[Conflict]) -> list[str]:
    """The sets of a tray and those of the proofs (stand-ins), as people read them."""
    named = set(index.sets_of.get(tray, ()))
    named |= {bound.set_id for one in conflicts if one.proof for bound in one.proof.sets}
    return sorted((named | {one.set_id for one in conflicts}) - {""}, key=natural_key)
