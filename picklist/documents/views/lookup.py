"""The plan's tables by id, for the sheets that name things."""

from __future__ import annotations

from datetime import date, datetime

from picklist import wording
from picklist.letters import natural_key
from picklist.model.conflicts import Conflict
from picklist.model.department import headline
from picklist.model.plan import Plan
from picklist.model.uses import ReadyTime, Reuse
from picklist.wording.chances import late_in


class Lookup:
    """A plan with its rows found by id, ``runs`` and ``chances`` by set and waiting case; made once for all sheets."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.clock = plan.settings.site_clock
        self.cases = {case.number: case for case in plan.cases} | {c.case.number: c.case for c in plan.carts}
        self.places = {place.id: place for place in plan.places}
        self.sets = {one.id: one for one in plan.sets}
        self.tray_names = {tray.id: tray.name for tray in plan.trays}
        self.item_names = {item.id: item.name for item in plan.items}
        self.item_places = {item.id: item.place for item in plan.items}
        self.staff = {member.id: member for member in plan.staff}
        self.conflicts = {one.id: one for one in plan.conflicts}
        self.reuses = {(reuse.set_id, reuse.waiter): reuse for reuse in plan.reuses}
        self.runs = plan.department.by_wait() if plan.department else {}
        self.chances = {(one.set_id, one.waiter): one for one in plan.chance.reuses} if plan.chance else {}

    @property
    def day(self) -> date:
        """The day of the carts."""
        return self.plan.day

    def when(self, instant: datetime | None) -> str:
        """The wall time of an instant, with its date when it is not the plan's day; a dash for none."""
        return wording.moment(self.clock, instant, self.plan.day) if instant else wording.NONE

    def other_day(self, instant: datetime) -> str:
        """``Wed 25 Nov`` for an instant that is not on the plan's day, else empty."""
        own = self.clock.day(instant)
        return "" if own == self.plan.day else wording.short_day(own)

    def tray(self, tray: str) -> str:
        """A tray's name, its id where no name is known."""
        return self.tray_names.get(tray, tray)

    def tray_wanted(self, conflict: Conflict) -> str:
        """The name of the tray that a conflict is about, with its side where it has one."""
        return ", ".join(part for part in (self.tray(conflict.tray), wording.small_side(conflict.side)) if part)

    def item(self, item: str) -> str:
        """An item's name, its id where no name is known."""
        return self.item_names.get(item, item)

    def person(self, person: str) -> str:
        """A person's name, the id where no name is known."""
        if person in self.staff:
            return self.staff[person].name
        surgeons = (cart.surgeon_name for cart in self.plan.carts if cart.case.surgeon == person)
        return next(surgeons, person)

    def procedures(self, procedures: tuple[str, ...]) -> str:
        """Procedures by name, by id where no cart of the day has one."""
        pairs = ((cart.case.procedures, cart.procedure_names) for cart in self.plan.carts)
        names = {one: name for ids, all_names in pairs for one, name in zip(ids, all_names, strict=False)}
        return ", ".join(names.get(one, one) for one in procedures)

    def room(self, case: str) -> str:
        """The room of a case, empty when it is not known."""
        return self.cases[case].room if case in self.cases else ""

    def case_in_room(self, case: str) -> str:
        """``C-1047 in OR 3``."""
        room = self.room(case)
        return f"{case} in {room}" if room else case

    def hangs_on_opening(self, set_id: str, waiter: str) -> bool:
        """Whether a set comes late to a case only when the case before, which has it on hold, opens it."""
        reuse = self.reuses.get((set_id, waiter))
        return reuse is not None and reuse.hangs_on_opening

    def late_in(self, one: Conflict) -> str:
        """How often the set of a conflict is late; empty where that means nothing or nothing was drawn."""
        if one.chance_of_failing is None or self.plan.chance is None:
            return ""
        reuse = self.reuses.get((one.set_id, one.waiter))
        pace = self.headline(reuse).pace if reuse else None
        opened = self.hangs_on_opening(one.set_id, one.waiter)
        return late_in(self.plan.chance.draws, one.chance_of_failing, one.chance_if_hurried, pace, if_opened=opened)

    def risk(self, reuse: Reuse) -> str:
        """In how many of the draws a set comes late to the case that waits; empty when none were made."""
        one, chance = self.chances.get((reuse.set_id, reuse.waiter)), self.plan.chance
        if one is None or chance is None:
            return ""
        pace, opened = self.headline(reuse).pace, reuse.hangs_on_opening
        return late_in(chance.draws, one.fails, one.fails_hurried, pace, if_opened=opened)

    def headline(self, reuse: Reuse) -> ReadyTime:
        """When a set is ready: at usual pace, or in today's queue where that is later."""
        return headline(reuse, self.runs.get((reuse.set_id, reuse.waiter)))

    def ready(self, reuse: Reuse) -> str:
        """``13:45 at usual pace``."""
        one = self.headline(reuse)
        return wording.at_pace(self.when(one.at), one.pace)

    def spare(self, reuse: Reuse) -> str:
        """``10 min late at usual pace``."""
        one = self.headline(reuse)
        return wording.at_pace(wording.to_spare(one.slack), one.pace)

    def area(self, place: str) -> str:
        """The area that a place belongs to, empty when none is named."""
        return self.places[place].area if place in self.places else ""

    def walk_key(self, place: str) -> tuple[int, int, object, object]:
        """Where the walk passes a place: by its number, else by area and name as people read them."""
        known = self.places.get(place)
        if known and known.order is not None:
            return (0, known.order, (), natural_key(place))
        area = known.area if known else ""
        return (1 if place else 2, 0, natural_key(area), natural_key(place))
