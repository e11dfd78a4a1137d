"""Published networks, walked with the general walk on a calendar without hours."""

from __future__ import annotations

import re
from datetime import timedelta

from picklist.checks.route_checks import find_hasty_routes
from picklist.model.routes import Route, Step
from picklist.model.site import Site
from picklist.model.uses import Pace, StepTime, Walk
from picklist.problems import Severity
from picklist.sets.calendar import make_calendar
from picklist.sets.timed_route import TimedRoute
from tests.builders import at, straight_route, utc_settings

OPEN = make_calendar(Site(settings=utc_settings()))
START = at("00:00")

# A house of 13 activities with what they wait for: GLPK, examples/cpp.mod (A. Makhorin), which gives its length, 46.
ACTIVITIES = "A3 B4(A) C3(B) D10(B) E8(D) F4(D) G6(D) H8(C,E,F,G) I5(H) J5(H) K4(I) L2(J) M4(K,L)"
LATEST_STARTS = "A0 B3 C22 D7 E17 F21 G19 H25 I33 J35 K38 L40 M42"  # computed from the network, all paths


def network(text: str) -> tuple[Step, ...]:
    steps = []
    for word in text.split():
        found = re.fullmatch(r"([A-Z])(\d+)(?:\(([A-Z,]+)\))?", word)
        assert found is not None
        name, minutes, after = found.groups()
        waits = tuple(after.split(",")) if after else ()
        steps.append(Step(name=name, after=waits, usual_minutes=int(minutes), least_minutes=int(minutes)))
    return tuple(steps)


def minute(time: StepTime) -> int:
    return int((time.begins - START).total_seconds() // 60)


def walks(steps: tuple[Step, ...], length: int) -> tuple[Walk, Walk]:
    forwards = TimedRoute(steps, OPEN, Pace.USUAL).walk_after(START)
    backwards = TimedRoute(steps, OPEN, Pace.USUAL).walk_before(START + timedelta(minutes=length))
    assert forwards is not None
    assert backwards is not None
    return forwards, backwards


def test_network_of_13_activities() -> None:
    forwards, backwards = walks(network(ACTIVITIES), 46)
    assert forwards.ready - START == timedelta(minutes=46)
    assert backwards.released == START
    assert " ".join(f"{time.step}{minute(time)}" for time in backwards.steps) == LATEST_STARTS
    earliest = {time.step: minute(time) for time in forwards.steps}
    critical = [time.step for time in backwards.steps if minute(time) == earliest[time.step]]
    assert critical == list("ABDEHIKM")


def test_arrow_network_of_seven_events() -> None:
    """University of Pittsburgh, notes on operations research: earliest and latest event times."""
    arrows = "1-2 4, 2-3 8, 2-4 7, 2-5 6, 3-4 0, 3-5 9, 4-6 15, 5-6 12, 6-7 20"
    steps: list[Step] = []
    for word in arrows.split(", "):
        name, minutes = word.split()
        waits = tuple(step.name for step in steps if step.name.endswith(name[:2].replace("-", "")))
        steps.append(Step(name=name, after=waits, usual_minutes=int(minutes), least_minutes=int(minutes)))
    forwards, backwards = walks(tuple(steps), 53)
    ends = {time.step: int((time.ends - START).total_seconds() // 60) for time in forwards.steps}
    begins = {time.step: minute(time) for time in backwards.steps}
    events = "234567"
    earliest = [max(end for name, end in ends.items() if name.endswith(event)) for event in events]
    latest = [min([53, *(begin for name, begin in begins.items() if name.startswith(event))]) for event in events]
    assert [0, *earliest] == [0, 4, 12, 12, 21, 33, 53]
    assert [0, *latest] == [0, 4, 12, 18, 21, 33, 53]
    assert backwards.released == START


def test_published_cycles_allow_no_steam_route_under_91_minutes_50() -> None:
    """Washer phases (J Foot Ankle Res 2011 4:2, table 2), exposure and drying at 132 °C (CDC guideline 2008,
    table 7), cooling 30 min (ANSI/AAMI ST79, quoted second hand): 37:50 + 4 + 20 + 30 = 91:50, whole minutes up.
    """
    phases = [(4, 38), (7, 20), (2, 0), (1, 30), (22, 22)]
    seconds = sum(60 * minutes + rest for minutes, rest in phases) + 60 * (4 + 20 + 30)
    assert divmod(seconds, 60) == (91, 50)
    washer = -(-(seconds - 60 * 54) // 60)
    least = (("wash", washer, washer), ("steam", 24, 24), ("cool", 30, 30))
    assert find_hasty_routes(steam_site(*least), START) == ()
    (notice,) = find_hasty_routes(steam_site(*least[:2], ("cool", 30, 29)), START)
    assert (notice.kind, notice.severity, notice.value) == ("route is hasty", Severity.NOTICE, "91")


def steam_site(*steps: tuple[str, int, int]) -> Site:
    route = straight_route("R", *steps)
    hot = Route(id="R", steps=tuple(steam(step) if step.name == "steam" else step for step in route.steps))
    return Site(settings=utc_settings(), routes={"R": hot})


def steam(step: Step) -> Step:
    return Step(
        name=step.name,
        after=step.after,
        usual_minutes=step.usual_minutes,
        least_minutes=step.least_minutes,
        temperature_c=132,
        exposure_min=4,
        drying_min=20,
    )
