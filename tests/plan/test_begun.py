"""Planned at midday: what has begun is no conflict any more, but still binds its sets."""

from __future__ import annotations

from picklist.checks import check_site
from picklist.model.conflicts import ConflictKind
from picklist.model.schedule import CaseStatus
from picklist.problems import Severity
from tests.builders import at, case, tray
from tests.plan.nights import hospital, in_use, planned, shelf


def kinds(plan_clusters: tuple[object, ...]) -> list[tuple[str, str]]:
    return [(one.kind.value, one.waiter) for cluster in plan_clusters for one in cluster.conflicts]  # type: ignore[attr-defined]


def test_a_case_that_began_hours_ago_is_not_called_short() -> None:
    """Both began at 08:00 with one set between them: nobody can decide that at noon. C3 can still be helped."""
    cases = (
        case("C1", "08:00", 300),
        case("C2", "08:00", 300, "OR 2"),
        case("C3", "14:00", 60, "OR 3"),
    )
    site = hospital(cases, (shelf("wrist-01"),))
    assert ("short", "C2") in kinds(planned(site, at("06:00")).clusters)
    at_noon = planned(site, at("12:00"))
    assert kinds(at_noon.clusters) == [("short", "C3")]
    assert [one.set_id for one in at_noon.assignments] == ["wrist-01", "", ""]


def test_until_its_start_a_case_whose_cart_is_late_is_still_short() -> None:
    cases = (case("C1", "08:00", 300), case("C2", "12:20", 60, "OR 2"))
    site = hospital(cases, (shelf("wrist-01"),))
    assert kinds(planned(site, at("12:10")).clusters) == [("short", "C2")]
    assert kinds(planned(site, at("12:20")).clusters) == []


def test_a_running_case_is_not_short_of_what_nobody_recorded() -> None:
    running = case("C1", "11:30", 120, status=CaseStatus.RUNNING)
    site = hospital((running, case("C2", "12:30", 60, "OR 2")), (in_use("wrist-01", "C2"),))
    assert kinds(planned(site, at("12:00")).clusters) == []


def test_a_reserve_that_is_broken_into_is_still_told() -> None:
    kept = (tray("wrist", keep_ready=1),)
    site = hospital((case("C1", "08:00", 300),), (shelf("wrist-01"),), trays=kept)
    (conflict,) = (one for one in planned(site, at("12:00")).conflicts)
    assert (conflict.kind, conflict.waiter) == (ConflictKind.RESERVE, "C1")
    # Its end, 13:00, is past: C1 has left the reserve alone or has not, and nobody can decide that any more.
    assert planned(site, at("12:59")).conflicts
    assert not planned(site, at("13:00")).conflicts


def test_a_case_written_as_running_long_after_its_end_is_named() -> None:
    running = case("C1", "08:00", 60, status=CaseStatus.RUNNING)
    site = hospital((running,), (in_use("wrist-01", "C1"),))
    found = [one for one in check_site(site, at("12:01")) if one.kind == "running long after its end"]
    assert [(one.severity, one.message) for one in found] == [
        (
            Severity.NOTICE,
            "case C1 is still running, but should have ended Thu 26 Nov 09:00; its sets count as leaving the room now",
        )
    ]
    assert not [one for one in check_site(site, at("12:00")) if one.kind == "running long after its end"]


def test_a_case_of_today_that_nobody_wrote_off_says_until_when_its_sets_count_as_used() -> None:
    site = hospital((case("C1", "08:00", 60),), (shelf("wrist-01"),))
    (found,) = [one for one in check_site(site, at("12:00")) if one.kind == "planned in the past"]
    assert found.message.endswith("until the status is corrected, sets count as used until 09:00")
    (later,) = [one for one in check_site(site, at("12:00", 1)) if one.kind == "planned in the past"]
    assert later.message.endswith("no list is needed")
