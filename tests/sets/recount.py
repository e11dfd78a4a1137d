"""A plan of sets counted again from its assignments alone.

Times of cases, of sets as they stand and of sets given back are worked out here from the site's
sheets with the minute-by-minute walker; nothing of the program but the model is used.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from picklist.model.routes import Step
from picklist.model.schedule import Side
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.uses import Pace, Use
from tests.sets.random_sites import Evening
from tests.sets.walker import NEVER, Line, Walker

CLEAN, UNOPENED, RUSH = "clean", "unopened", "rush"
Served = Mapping[str, str]  # use key to set id
LONG_AGO = -(10**6)


@dataclass(frozen=True, kw_only=True)
class Back:
    """When a set can be on a cart, in minutes: by usual and least minutes, and if it stays unopened.

    ``there``: it stands in the building and has only to be fetched.
    """

    usual: int
    least: int
    unopened: int = NEVER
    there: bool = False

    def grade(self, need: int) -> str | None:
        """How it makes it by a need; None when it does not."""
        if self.usual <= need:
            return CLEAN
        if self.unopened <= need:
            return UNOPENED
        return RUSH if self.least <= need else None

    @property
    def soonest(self) -> int:
        return min(self.usual, self.least, self.unopened)


class Ledger:
    """The uses and sets of an evening with all their times, in minutes of the walker."""

    def __init__(self, evening: Evening) -> None:
        self.site, self.now = evening.site, evening.now
        self.uses = {use.key: use for use in sorted(evening.uses, key=lambda one: (one.needed, one.key))}
        self.walker = Walker(self.site, date(2026, 11, 26), before=3, after=14)
        self.cases = {case.number: case for case in self.site.cases}
        self._routes: dict[tuple[str, Pace], Line] = {}
        self._rides: dict[tuple[str, str], Line | None] = {}
        self._again: dict[tuple[str, str, str], Back | None] = {}

    def need(self, use: Use) -> int:
        """The minute at which a use's cart must be complete."""
        return self.walker.minute(self._start(use.case) - timedelta(minutes=self.site.settings.setup_lead))

    def released(self, case: str, tray: str) -> int:
        """The minute at which a case's set begins its route."""
        planned = self.cases[case]
        out = planned.start + timedelta(minutes=planned.minutes + self.site.settings.room_release)
        first = self.site.routes[self.site.trays[tray].route].steps[0]
        return self.walker.minute(out) + (0 if first.in_room else self.site.settings.haul)

    def preference(self, one: InstrumentSet, use: Use) -> int | None:
        """0 for a set of the tray asked for, more for one that stands in, None for one that cannot serve."""
        if one.state in (SetState.UNKNOWN, SetState.INCOMPLETE):
            return None
        asked = self.site.trays[use.tray]
        allowed = {stand_in.tray: max(1, stand_in.preference) for stand_in in asked.stand_ins} | {use.tray: 0}
        if one.tray not in allowed or (self.site.trays[one.tray].sided and one.side not in (use.side, Side.BOTH)):
            return None
        if self.site.trays[one.tray].sided and use.side is None:
            return None
        if one.return_by is not None and self._given_up(one, use, 0) > self.walker.minute(one.return_by):
            return None
        return allowed[one.tray]

    def lateness(self, one: InstrumentSet, use: Use, back: Back | None) -> int | None:
        """How late a set comes for a use; None when it is in time, or must go before the case then ends."""
        late = 0 if back is None else back.usual - self.need(use)
        ends = None if one.return_by is None else self.walker.minute(one.return_by)
        too_late = ends is not None and self._given_up(one, use, max(0, late)) > ends
        return None if late <= 0 or too_late else late

    def first(self, one: InstrumentSet, use: Use) -> Back | None:
        """When a set that no case has had yet can be on a use's cart."""
        now = self.walker.minute(self.now)
        if one.state is SetState.ON_SHELF and (
            one.recorded_until is None or self._start(use.case) <= one.recorded_until
        ):
            if not self._is_far(one, use):
                return Back(usual=LONG_AGO, least=LONG_AGO, there=True)
            return self._ride(one, use, now, now)
        since = self._free_from(one)
        return self._ride(one, use, self._walked(one, since, Pace.USUAL), self._walked(one, since, Pace.LEAST))

    def again(self, one: InstrumentSet, giver: Use, use: Use) -> Back | None:
        """When a set that a use has had can be on the cart of another."""
        key = (one.id, giver.key, use.key)
        if key not in self._again:
            since = self.back_home(one, giver.case, self.released(giver.case, one.tray))
            back = self._ride(one, use, self._walked(one, since, Pace.USUAL), self._walked(one, since, Pace.LEAST))
            if since == NEVER:
                back = None
            if back is not None and giver.on_hold and self._keeps_its_record(one, giver, use):
                kept = self.walker.minute(self._out(giver.case)) + self.site.settings.put_back
                unopened = self._unopened(one, giver.case, use.case, kept)
                back = Back(usual=back.usual, least=back.least, unopened=unopened)
            self._again[key] = back
        return self._again[key]

    def back_home(self, one: InstrumentSet, case: str, leaves: int) -> int:
        """The minute at which a used set is in decontamination at home that leaves its case's house at a minute.

        What is used in another house goes home by the way listed, after its run; NEVER where none is. A route that
        begins in the room says its own way to decontamination.
        """
        first = self.site.routes[self.site.trays[one.tray].route].steps[0]
        return leaves if first.in_room else self._carried(self._house(case), self.home(one), leaves)

    def _unopened(self, one: InstrumentSet, giver: str, case: str, kept: int) -> int:
        """The minute at which a set put back unopened is where the next case is: next door, by the way, by its home."""
        here, there, home = self._house(giver), self._house(case), self.home(one)
        straight = self._carried(here, there, kept)
        return straight if straight < NEVER else self._carried(home, there, self._carried(here, home, kept))

    def _given_up(self, one: InstrumentSet, use: Use, late: int) -> int:
        """The minute at which a set of a use that is so late is back at home, or in its house if no way leads home."""
        leaves = self.released(use.case, one.tray) + late
        back = self.back_home(one, use.case, leaves)
        return leaves if back == NEVER else back

    def _keeps_its_record(self, one: InstrumentSet, giver: Use, use: Use) -> bool:
        """Whether a set that a use leaves unopened is still recorded as sterile when another starts.

        One whose record ended before the giver ran its route for it. That a use before that had opened it, so that
        its record is newer, is left out: in these evenings it never tells.
        """
        ends = one.recorded_until if one.state is SetState.ON_SHELF else None
        return ends is None or self._start(giver.case) > ends or self._start(use.case) <= ends

    def home_first(self, one: InstrumentSet, use: Use) -> int:
        """When a set that no case has had yet is ready, wherever that is; at the use if its record ends before it."""
        if one.state is SetState.ON_SHELF:
            back = self.first(one, use)
            outdated = one.recorded_until is not None and self._start(use.case) > one.recorded_until
            return LONG_AGO if not outdated else back.usual if back else NEVER
        return self._walked(one, self._free_from(one), Pace.USUAL)

    def home_again(self, one: InstrumentSet, giver: Use) -> int:
        """When a set that a use has had is ready again, wherever that is."""
        return self._walked(one, self.back_home(one, giver.case, self.released(giver.case, one.tray)), Pace.USUAL)

    def ready_at(self, one: InstrumentSet, giver: str, use: Use, leaves: int, pace: Pace) -> int:
        """When a set that leaves the house of a case at a minute is on a use's cart."""
        walked = self._walked(one, self.back_home(one, giver, leaves), pace)
        back = self._ride(one, use, walked, walked)
        return NEVER if back is None else back.usual

    def _free_from(self, one: InstrumentSet) -> int:
        """The minute at which the route of a set as it stands begins."""
        now = self.walker.minute(self.now)
        if one.state is SetState.IN_USE:
            haul = self.released(one.in_case, one.tray) - self.walker.minute(self._out(one.in_case))
            leaves = max(now, self.walker.minute(self._out(one.in_case))) + haul
            return self.back_home(one, one.in_case, leaves)
        if one.back_at is not None and one.state in (SetState.AWAY, SetState.ON_LOAN):
            return max(now, self.walker.minute(one.back_at))
        return now

    def _walked(self, one: InstrumentSet, since: int, pace: Pace) -> int:
        route = self.site.trays[one.tray].route
        if (route, pace) not in self._routes:
            self._routes[route, pace] = self.walker.ready_lines(self.site.routes[route].steps, pace)
        return NEVER if since >= NEVER else int(self._routes[route, pace][since])

    def _is_far(self, one: InstrumentSet, use: Use) -> bool:
        return self._house(use.case) not in ("", self.home(one)) and self.home(one) != ""

    def _house(self, case: str) -> str:
        return self.site.rooms[self.cases[case].room].building

    def home(self, one: InstrumentSet) -> str:
        """The building that a set comes from and goes back to."""
        return self.site.places[one.place].building

    def _ride(self, one: InstrumentSet, use: Use, usual: int, least: int) -> Back | None:
        way = (self.home(one), self._house(use.case))
        if self._is_far(one, use) and self._line(*way) is None:
            return None
        return Back(usual=self._carried(*way, usual), least=self._carried(*way, least))

    def _carried(self, start: str, end: str, minute: int) -> int:
        """When a set that stands ready to go in one house at a minute is in another; NEVER if no way is listed."""
        if minute >= NEVER or not (start and end) or start == end:
            return minute
        line = self._line(start, end)
        return NEVER if line is None else int(line[minute])

    def _line(self, start: str, end: str) -> Line | None:
        if (start, end) not in self._rides:
            found = [one for one in self.site.transfers if (one.from_building, one.to_building) == (start, end)]
            ride = [Step(name="r", usual_minutes=t.minutes, least_minutes=t.minutes, run=t.run) for t in found]
            self._rides[start, end] = self.walker.ready_lines(tuple(ride), Pace.USUAL) if ride else None
        return self._rides[start, end]

    def _start(self, case: str) -> datetime:
        return self.cases[case].start

    def _out(self, case: str) -> datetime:
        one = self.cases[case]
        return one.start + timedelta(minutes=one.minutes + self.site.settings.room_release)


@dataclass(frozen=True, kw_only=True)
class Value:
    """What a plan of sets is worth. ``serving``: weight and number of the uses that are opened, then of those on hold.

    More of these is better, and of the slack; of all the others less.
    """

    serving: tuple[int, int, int, int]
    hanging: int
    stand_ins: int
    preference: int
    late: int
    early: int  # stand-ins, each weighed by the claim of its use
    under: int
    close: int
    smallest: int | None


def value_of(ledger: Ledger, served: Served) -> Value:
    """The value of a plan from who has which set; fails when a set cannot be where it is said to be."""
    hanging = stand_ins = preferences = early = close = 0
    slacks = []
    claims = {use.key: rank for rank, use in enumerate(reversed(in_order_of_claim(ledger)), start=1)}
    for line in lines_of(ledger, served).values():
        for place, use in enumerate(line):
            one = ledger.site.sets[served[use.key]]
            back = ledger.again(one, line[place - 1], use) if place else ledger.first(one, use)
            preference = ledger.preference(one, use)
            assert back is not None
            assert preference is not None
            grade, slack = back.grade(ledger.need(use)), ledger.need(use) - back.usual
            assert grade is not None, f"{one.id} is not there for {use.key}"
            stand_ins += preference > 0
            preferences += preference
            early += claims[use.key] * preference
            hanging += grade != CLEAN
            close += max(0, -slack)
            slacks += [slack] if grade == CLEAN and not back.there else []
    return Value(
        serving=(*_serving(ledger, served, on_hold=False), *_serving(ledger, served, on_hold=True)),
        hanging=hanging,
        stand_ins=stand_ins,
        preference=preferences,
        late=sum(wait(ledger, served, use) for use in ledger.uses.values() if use.key not in served),
        early=early,
        under=sum(
            under_floor(ledger, served, use, tray) for use in ledger.uses.values() for tray in pools(ledger, use)
        ),
        close=close,
        smallest=min(slacks, default=None),
    )


def _serving(ledger: Ledger, served: Served, *, on_hold: bool) -> tuple[int, int]:
    """Weight of the cases and trays that are served in full, and the number of uses that are."""
    groups: dict[tuple[str, str], list[Use]] = defaultdict(list)
    mine = [use for use in ledger.uses.values() if use.on_hold is on_hold]
    for use in mine:
        groups[use.case, use.tray].append(use)
    weight = sum(group[0].weight for group in groups.values() if all(use.key in served for use in group))
    return weight, sum(use.key in served for use in mine)


def in_order_of_claim(ledger: Ledger) -> list[Use]:
    """The uses in the order in which they keep their sets where all else is equal: the earlier start first."""
    return sorted(ledger.uses.values(), key=lambda use: (use.starts, use.key))


def lines_of(ledger: Ledger, served: Served) -> dict[str, list[Use]]:
    """For each set that serves its uses in order of need."""
    lines: dict[str, list[Use]] = defaultdict(list)
    for use in ledger.uses.values():
        if use.key in served:
            lines[served[use.key]].append(use)
    return lines


def pools(ledger: Ledger, use: Use) -> set[str]:
    """The trays that have a set which could serve the use."""
    return {one.tray for one in ledger.site.sets.values() if ledger.preference(one, use) is not None}


def wait(ledger: Ledger, served: Served, use: Use) -> int:
    """How late the soonest set comes for a use that goes without; when none does, a minute more than any could.

    For a case that wants a single set.
    """
    return soonest(ledger, served, use) or never_wait(ledger, use)


def soonest(ledger: Ledger, served: Served, use: Use) -> int:
    """How late a set comes free for a use that goes without: from whoever has it at the need, or later; else 0."""
    need, lines = ledger.need(use), lines_of(ledger, served)
    waits: list[int | None] = []
    for one in ledger.site.sets.values():
        if ledger.preference(one, use) is None:
            continue
        taken = [giver for giver in lines.get(one.id, ()) if ledger.need(giver) <= need]
        coming = [giver for giver in lines.get(one.id, ()) if ledger.need(giver) > need]
        backs = [ledger.again(one, giver, use) for giver in [*taken[-1:], *coming]]
        backs += [] if taken else [ledger.first(one, use)]
        waits += [ledger.lateness(one, use, back) for back in backs]
    return min((late for late in waits if late is not None), default=0)


def never_wait(ledger: Ledger, use: Use) -> int:
    """A minute more than the latest moment at which a set as it stands, or one that a use could have had, is there."""
    latest = -1
    for one in ledger.site.sets.values():
        first = ledger.first(one, use) if ledger.preference(one, use) is not None else None
        latest = max(latest, first.usual - ledger.need(use) if first is not None else -1)
        for other in ledger.uses.values():
            both = ledger.preference(one, use) is not None and ledger.preference(one, other) is not None
            back = ledger.again(one, other, use) if both and other is not use else None
            latest = max(latest, back.usual - ledger.need(use) if back is not None else -1)
    return latest + 1


def standing(ledger: Ledger, use: Use, tray: str) -> int:
    """How many sets of a tray are there by the need of a use, were none given to anyone."""
    return sum(stands(ledger, one, use) for one in ledger.site.sets.values() if one.tray == tray)


def stands(ledger: Ledger, one: InstrumentSet, use: Use) -> bool:
    """Whether a set is ready somewhere by the need of a use when no case has had it yet."""
    return one.state not in (SetState.UNKNOWN, SetState.INCOMPLETE) and ledger.home_first(one, use) <= ledger.need(use)


def is_out(ledger: Ledger, one: InstrumentSet, line: Iterable[Use], moment: int) -> bool:
    """Whether a set that serves these uses is with one of them, or not yet ready again anywhere, at a minute."""
    taken = [use for use in line if ledger.need(use) <= moment]
    return bool(taken) and ledger.home_again(one, taken[-1]) > moment


def under_floor(ledger: Ledger, served: Served, use: Use, tray: str) -> int:
    """How many of the sets of a tray that are to be kept ready are out at the need of a use."""
    floor = ledger.site.trays[tray].keep_ready
    spare = max(0, standing(ledger, use, tray) - floor)
    return max(0, out_of(ledger, served, use, tray) - spare) if floor else 0


def left_ready(ledger: Ledger, served: Served, use: Use, tray: str) -> int:
    """How many sets of a tray stand ready at the need of a use, once it has its own."""
    return max(0, standing(ledger, use, tray) - out_of(ledger, served, use, tray))


def out_of(ledger: Ledger, served: Served, use: Use, tray: str) -> int:
    """How many sets of a tray that would stand ready at the need of a use are out."""
    lines = lines_of(ledger, served)
    return sum(
        is_out(ledger, one, lines.get(one.id, ()), ledger.need(use))
        for one in ledger.site.sets.values()
        if one.tray == tray and stands(ledger, one, use)
    )
