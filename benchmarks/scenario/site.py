"""An invented site, put together from its lists."""

from __future__ import annotations

from random import Random

from benchmarks.scenario.campus import gather_campuses
from benchmarks.scenario.cards import make_cards, make_procedures
from benchmarks.scenario.department import make_department, make_settings
from benchmarks.scenario.diary import Diary
from benchmarks.scenario.items import make_items, make_packs, make_places
from benchmarks.scenario.lists import Tables
from benchmarks.scenario.lots import make_lots
from benchmarks.scenario.past_days import add_starts
from benchmarks.scenario.people import make_past_cases, make_staff
from benchmarks.scenario.schedule import Draw, draw_cases, make_rooms, make_scenes, number_cases, running_in
from benchmarks.scenario.sizes import Size
from benchmarks.scenario.trays import count_kept, make_contents, make_sets, make_trays


def make_site(size: Size, seed: int) -> Tables:
    """The rows of every table of an invented site, the same for the same size and seed."""
    if size.campuses == 1:
        return _make_campus(size, f"{seed}")
    campuses = [_make_campus(size, f"{seed}/{n}") for n in range(size.campuses)]
    return gather_campuses(campuses, size.lend)


def _make_campus(size: Size, seed: str) -> Tables:
    scenes = number_cases(make_scenes(size))
    sets = make_sets(size, Random(f"{seed}/sets"), running_in(scenes))
    draw = Draw(size, Random(f"{seed}/schedule"), Diary(count_kept(sets)))
    cases = number_cases(draw_cases(draw, scenes))
    cards = make_cards(size, Random(f"{seed}/cards"))
    past = make_past_cases(size, Random(f"{seed}/past"))
    return {
        "Settings": make_settings(),
        "Schedule": cases,
        "Procedures": make_procedures(),
        "Cards": cards,
        "Items": make_items(),
        "Packs": make_packs(),
        "Lots": make_lots(size, Random(f"{seed}/lots"), cases, cards),
        "Places": make_places(),
        "Trays": make_trays(),
        "Tray contents": make_contents(),
        "Sets": sets,
        **make_department(size),
        "Staff": make_staff(size),
        "Rooms": make_rooms(size),
        "Past cases": add_starts(past, size, Random(f"{seed}/past starts")),
    }
