"""The evening's first page: which carts, in what order, and what to know before starting."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from picklist import wording
from picklist.documents.views.finished_words import View
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.open_list import open_list
from picklist.documents.views.stamp import Printing, not_counted, settings_lines, stamp_for
from picklist.documents.views.tray_rows import own_conflicts
from picklist.evening.open_points import OpenPoints, open_points
from picklist.model.conflicts import Conflict, ConflictKind
from picklist.model.known import NO_REPORTS, NOTHING_KNOWN, CartReport
from picklist.model.plan import Cart, in_order_of_completion
from picklist.problems import Severity
from picklist.wording.say_remedies import STILL_SOUGHT, while_sought


class EveningCart(View):
    """One cart; ``marks`` are words to know before starting: how far it is, short, kinds of conflict.

    ``state`` is how far it is, alone; empty when nothing was reported.
    """

    def __init__(self, found: Lookup, cart: Cart, printing: Printing, reported: CartReport | None) -> None:
        more = f" + {len(cart.procedure_names) - 1}" if len(cart.procedure_names) > 1 else ""
        self.complete_by = found.when(cart.complete_by)
        self.room = cart.case.room
        self.start = found.when(cart.case.start)
        self.case = cart.case.number
        self.surgeon = cart.surgeon_name
        self.procedure = "".join(cart.procedure_names[:1]) + more
        self.side = wording.case_side(cart)
        self.holds = "" if cart.stopped else _holds(cart)
        self.alerts = tuple(alert.upper() for alert in cart.case.alerts)
        self.state = reported.state if reported else ""
        self.built = bool(reported and reported.finished)
        self.marks = (*((reported.state,) if reported else ()), *_marks(found, cart))
        self.revision = str(printing.revision)
        self.changed = printing.revision >= found.plan.first_new
        self.stopped = bool(cart.stopped)


class KindRow(View):
    """Conflicts of one kind: how many, and when the first must be decided."""

    def __init__(self, found: Lookup, kind: ConflictKind, conflicts: list[Conflict]) -> None:
        self.kind = kind.value
        self.meaning = wording.KIND_MEANS[kind]
        self.number = str(len(conflicts))
        self.first = found.when(min((one.decide_by for one in conflicts if one.decide_by), default=None))


WHICH_COUNT = (
    "Keep only revision {revision} of this page and of the bulk, department, work, conflict and shortage sheets, "
    "and every Changes sheet. "
    "A pick list and its label are valid until a newer list replaces them; "
    "Rev. shows the valid one."
)


class EveningView(View):
    """The cover of the evening's papers: carts in order of completion, what is open, conflicts, stopped lists.

    ``reported`` says of each case of which something was reported how far its cart is; ``points``: what is open
    by what was reported and decided, else by the plan alone. ``stopped``: each case, and the place of the first reason.
    """

    def __init__(
        self,
        found: Lookup,
        printing_for: Callable[[str], Printing],
        reported: Mapping[str, CartReport] = NO_REPORTS,
        points: OpenPoints | None = None,
    ) -> None:
        carts = in_order_of_completion(found.plan.carts)
        self.stamp = stamp_for(found.plan)
        self.title = f"Carts for {found.clock.day_text(found.day)}"
        self.counts = _counts(found, reported)
        self.which_count = WHICH_COUNT.format(revision=found.plan.revision)
        self.carts = tuple(
            EveningCart(found, cart, printing_for(cart.case.number), reported.get(cart.case.number)) for cart in carts
        )
        self.open = open_list(found, points or open_points(found.plan, NOTHING_KNOWN, found.plan.now))
        self.conflicts = tuple(KindRow(found, kind, some) for kind, some in by_kind(found).items() if some)
        self.stopped = (
            *((found.case_in_room(c.case.number), str(c.stopped[0].where)) for c in carts if c.stopped),
            *((f"{p.cases[0]}, its day, room or start is unreadable", str(p.where)) for p in found.plan.unplaced),
        )
        self.to_fix = _to_fix(found)
        self.not_counted = not_counted(found)
        self.still_sought = while_sought(found.plan.search, STILL_SOUGHT)
        self.settings = settings_lines(found.plan.settings)


def carts_counted(found: Lookup, reported: Mapping[str, CartReport]) -> tuple[str, ...]:
    """How many carts are to be built, built, running and on hold, in words."""
    carts = found.plan.carts
    stopped = sum(bool(cart.stopped) for cart in carts) + len(found.plan.unplaced)
    waiting = [one for one in carts if not one.stopped and not one.case.is_running]
    done = len(waiting) - len(_to_build(found, reported))
    underway = any(one.case.number in reported for one in waiting)  # started, or built from a list replaced since
    running = sum(cart.case.is_running and not cart.stopped for cart in carts)
    return (
        wording.counted(len(waiting) - done, "cart") + (" to finish" if underway else " to build"),
        *([f"{done} built"] if done else []),
        *([f"{running} running"] if running else []),
        f"{stopped} on hold",
    )


def _to_build(found: Lookup, reported: Mapping[str, CartReport]) -> list[Cart]:
    finished = {case for case, one in reported.items() if one.finished}
    waiting = (one for one in found.plan.carts if not one.stopped and not one.case.is_running)
    return [one for one in waiting if one.case.number not in finished]


def _counts(found: Lookup, reported: Mapping[str, CartReport]) -> str:
    parts = [
        *carts_counted(found, reported),
        wording.counted(sum(len(cart.trays) for cart in _to_build(found, reported)), "tray"),
        wording.counted(len(found.conflicts), "conflict"),
        wording.counted(len(found.plan.shortages), "item") + " short",
    ]
    return " · ".join(parts)


def _holds(cart: Cart) -> str:
    return f"{wording.counted(len(cart.trays), 'tray')}, {wording.counted(len(cart.goods), 'line')}"


def _marks(found: Lookup, cart: Cart) -> tuple[str, ...]:
    if cart.stopped:
        return ()
    kinds = {one.kind for line in cart.trays for one in own_conflicts(found, cart, line)}
    marks = ["running"] if cart.case.is_running else []
    marks += [kind.value for kind in ConflictKind if kind in kinds]
    marks += ["no set"] if any(not line.set_id for line in cart.trays) else []
    marks += ["item short"] if any(line.is_short for line in cart.goods) else []
    return tuple(marks)


def by_kind(found: Lookup) -> dict[ConflictKind, list[Conflict]]:
    """The conflicts of every kind, also of those without one."""
    return {kind: [one for one in found.conflicts.values() if one.kind is kind] for kind in ConflictKind}


def _to_fix(found: Lookup) -> str:
    wrong = [one for one in found.plan.problems if one.severity is not Severity.NOTICE]
    if not wrong:
        return ""
    return f"{wording.counted(len(wrong), 'problem')} to fix in the workbooks; picklist check lists each with its cell."
