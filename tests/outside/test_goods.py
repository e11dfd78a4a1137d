"""From cases to what is short, against bills of material in print: a case is a bill, a pack what is made already.

A procedure's card is the bill of one assembly, several teams at once need all of them, a pack that is opened holds
what need not be fetched loose, and what the shelves lack is the net requirement. Everything runs from files to plan.
"""

from __future__ import annotations

import csv
import shutil
from datetime import date, datetime, time, timedelta
from pathlib import Path

from picklist.model.plan import Plan
from tests.examples.test_examples import HERE as EXAMPLES
from tests.examples.test_examples import plan_of

Rows = list[dict[str, object]]
DAY = date(2026, 11, 26)
EVENING = time(18)


def planned(folder: Path, day: date = DAY, **tables: Rows) -> Plan:
    """The plan of a day from the common house and these tables, as the evening before sees it."""
    tables["staff"] = [{"person": f"S{n}", "name": f"Dr. Quill {n}", "role": "surgeon"} for n in range(1, 21)]
    for source in (EXAMPLES / "house").glob("*.csv"):
        shutil.copy(source, folder / source.name)
    for name, rows in tables.items():
        with (folder / f"{name.title()}.csv").open("w", newline="", encoding="utf-8") as file:
            headers = list(dict.fromkeys(header for row in rows for header in row))
            writer = csv.DictWriter(file, headers)
            writer.writeheader()
            writer.writerows(rows)
    return plan_of(folder, datetime.combine(day - timedelta(days=1), EVENING), day)


def items(*names: str) -> Rows:
    return [
        {"item": name, "name": f"Part {name}", "unit": "each", "class": "supply", "place": "A-01"} for name in names
    ]


def lots(**on_hand: int) -> Rows:
    return [
        {"item": name, "lot": f"L-{name}", "quantity": count, "expiry": "2030-01", "place": "A-01"}
        for name, count in on_hand.items()
    ]


def bill(procedure: str, **parts: int) -> Rows:
    return [{"procedure": procedure, "kind": "item", "thing": part, "open": n} for part, n in parts.items()]


def procedures(*names: str) -> Rows:
    return [{"procedure": name, "name": f"Assembly {name}"} for name in names]


def cases(count: int, procedures_of_each: str, start: str = "07:30", first: int = 1, **changes: object) -> Rows:
    row = {"day": DAY, "room": "R1", "start": start, "minutes": 5, "side": "none"}
    number = procedures_of_each.count(";") + 1
    return [
        row
        | {
            "case": f"C-{n:03d}",
            "room": f"R{n}",
            "surgeon": f"S{n}",
            "procedures": procedures_of_each,
            "teams at once": number,
        }
        | changes
        for n in range(first, first + count)
    ]


def short(plan: Plan) -> dict[str, int]:
    """How many of each item the shelves lack, all cases together."""
    return {one.item: sum(case.open + case.hold for case in one.lacking) for one in plan.shortages}


def test_a_part_that_two_levels_use(tmp_path: Path) -> None:
    """Information-technology Promotion Agency (Japan), applied examination, spring 2018, morning question 72:
    A of 2 B and 1 C, B of 1 C, 1 D and 1 E; ten A, no B and 5 C there: 25 C are to be had (not 15, 20 or 30).
    """
    plan = planned(
        tmp_path,
        items=items("C", "D", "E"),
        lots=lots(C=5, D=99, E=99),
        procedures=procedures("A", "B1", "B2"),
        cards=bill("A", C=1) + bill("B1", C=1, D=1, E=1) + bill("B2", C=1, D=1, E=1),
        schedule=cases(10, "A; B1; B2"),
    )
    assert short(plan) == {"C": 25}


def test_a_part_that_lies_in_what_is_made_already(tmp_path: Path) -> None:
    """The same agency, fundamental examination, autumn 2009, morning question 73: A of 3 a and 2 b, a of 1 b and
    2 c; 300 A to ship; there are 100 A, 100 a, 300 b and 400 c. Answer: 600 b (of 200, 600, 900, 1500); 600 c follows.

    Twenty cases of ten A each (200 are to be made); a pack stands for ten a (SUB here), and ten are opened.
    """
    plan = planned(
        tmp_path,
        items=items("b", "c"),
        lots=[*lots(b=300, c=400), {"item": "PK", "lot": "L-PK", "quantity": 10, "expiry": "2030-01", "place": "A-01"}],
        packs=[
            {"pack": "PK", "name": "Ten a", "item": "b", "quantity": 10},
            {"pack": "PK", "name": "", "item": "c", "quantity": 20},
        ],
        procedures=[*procedures("A", "SUB"), {"procedure": "AP", "name": "With a pack", "pack": "PK"}],
        cards=bill("A", b=20) + bill("AP", b=20) + bill("SUB", b=30, c=60),
        schedule=cases(10, "AP; SUB") + cases(10, "A; SUB", first=11),
    )
    assert short(plan) == {"b": 600, "c": 600}


def test_what_four_levels_have_made_already(tmp_path: Path) -> None:
    """Ptak and Smith, p. 105: 100 trucks of one A, A of one B, B of one C, C of one D; there are 2 A, 15 B, 7 C, 46 D:
    30 D are short. The book's wrong way, in which each level is netted by itself against 100, gives 54.

    A pack stands for what is made already and holds the D of it: it is not fetched again.
    """
    made = {"A": 2, "B": 15, "C": 7}
    plan = planned(
        tmp_path,
        items=items("D"),
        lots=[
            *lots(D=46),
            *(
                {"item": f"P{n}", "lot": n, "quantity": many, "expiry": "2030-01", "place": "A-01"}
                for n, many in made.items()
            ),
        ],
        packs=[{"pack": f"P{n}", "name": f"Made {n}", "item": "D", "quantity": 1} for n in made],
        procedures=procedures("T") + [{"procedure": f"T{n}", "name": n, "pack": f"P{n}"} for n in made],
        cards=[row for name in ("T", "TA", "TB", "TC") for row in bill(name, D=1)],
        schedule=[
            {**row, "room": f"R{at % 20 + 1}", "surgeon": f"S{at % 20 + 1}", "start": f"{7 + at // 20:02d}:30"}
            for at, name in enumerate(["TA"] * 2 + ["TB"] * 15 + ["TC"] * 7 + ["T"] * 76)
            for row in cases(1, name, first=at + 1)
        ],
    )
    assert short(plan) == {"D": 30}


def test_net_requirements_by_period(tmp_path: Path) -> None:
    """Ptak and Smith, *Orlicky's Material Requirements Planning*, 3rd ed. (2011), p. 121: gross by period 0, 20, 0, 25,
    0, 15, 12, 0; 23 on hand, and 30 received before they are wanted: net 7 in the sixth and 12 in the seventh.
    """
    gross = {2: 20, 4: 25, 6: 15, 7: 12}
    plan = planned(
        tmp_path,
        items=items("P"),
        lots=[*lots(P=23), {"item": "P", "lot": "L-IN", "quantity": 30, "expiry": "2031-01", "place": "A-01"}],
        procedures=procedures(*(f"P{n}" for n in gross)),
        cards=[row for n, count in gross.items() for row in bill(f"P{n}", P=count)],
        schedule=[row for n in gross for row in cases(1, f"P{n}", start=f"{7 + n:02d}:00", first=n)],
    )
    [shortage] = plan.shortages
    assert {one.case: one.open for one in shortage.lacking} == {"C-006": 7, "C-007": 12}


def test_that_a_lot_may_still_be_used_on_its_last_day(tmp_path: Path) -> None:
    """One lot of 48 whose last day is the fourth, 10 wanted a day: 40 are used and 8 expire unused (a supply planning
    manual's example of lots, release 25c): the day of expiry itself still counts, the day after does not.
    """
    days = [DAY + timedelta(days=n) for n in range(5)]
    tables: dict[str, Rows] = {
        "items": items("P"),
        "procedures": procedures("P"),
        "cards": bill("P", P=10),
    }
    left, used = 48, []
    for day in days:
        lot = {"item": "P", "lot": "L1", "quantity": left, "expiry": days[3], "place": "A-01"}
        folder = tmp_path / day.isoformat()
        folder.mkdir()
        plan = planned(folder, day, lots=[lot], schedule=cases(1, "P", day=day, minutes=60), **tables)
        cart = next(cart for cart in plan.carts if cart.case.day == day)
        used.append(sum(pick.open for line in cart.goods for pick in line.picks))
        left -= used[-1]
    assert (used, left) == ([10, 10, 10, 10, 0], 8)
