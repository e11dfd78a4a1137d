"""Days at the edge of what a site may hold, each a small site made from the evening of three cases. All invented."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path

from picklist.tables.write import write_tables
from tests.hard.evening import NOW, three_cases
from tests.inputs.folders import DAY, Rows

LINES = 400
LONG = 200  # characters
SPRING, AUTUMN = date(2027, 3, 14), date(2026, 11, 1)  # when Chicago's clocks change at 02:00 (tz database)
ARABIC, HEBREW, CHINESE, HINDI = "مفصل الركبة 3 مم", "ברך ימין 12", "膝関節修復", "घुटने की मरम्मत"


def long_name(word: str, *, gaps: bool = True, most: int = LONG) -> str:
    """A name of so many characters, of words or in one piece; its last characters are its end."""
    filled = f"{word} {'with every clamp and holder ' * 9}" if gaps else word.replace(" ", "") + "x" * LONG
    return filled[: most - 4].rstrip().ljust(most - 4, "-") + " END" if gaps else filled[: most - 3] + "END"


def long_card(rows: Rows) -> None:
    """The knee's card has 400 items more; their lots lie in forty aisles."""
    del rows["Schedule"][2]
    for n in range(LINES):
        item, place = f"2{n:05d}", f"B-{n % 40:02d}"
        rows["Items"].append({"item": item, "name": f"Suture number {n}", "place": place, "latex": False})
        rows["Cards"].append({"procedure": "KNEE", "kind": "item", "thing": item, "open": 1 + n % 3, "hold": n % 2})
        rows["Lots"].append({"item": item, "lot": f"N{n}", "quantity": 9, "expiry": "2028-01", "place": place})
    rows["Places"] += [{"place": f"B-{n:02d}", "walking order": 100 + n} for n in range(40)]


def long_names(rows: Rows) -> None:
    """Everything that has a name has one of 200 characters, some without a gap."""
    rows["Settings"][0]["value"] = long_name("Example Hospital")
    rows["Schedule"][0]["notes"] = long_name("Bring the battery", gaps=False)
    rows["Procedures"][0]["name"] = long_name("Knee repair")
    rows["Procedures"][1]["name"] = long_name("Hernia repair", gaps=False)
    for n, person in enumerate(rows["Staff"]):
        person["name"] = long_name(person["name"], gaps=n > 0)
    for n, item in enumerate(rows["Items"]):
        item["name"] = long_name(item["name"], gaps=n % 2 > 0)
    for tray in rows["Trays"]:
        tray["name"] = long_name(tray["name"], gaps=tray["tray"] == "T-KNEE")
    rows["Packs"][0]["name"] = long_name("Knee pack")
    rows["Tray contents"][0]["instrument"] = long_name("Needle holder")
    rows["Cards"][0]["note"] = long_name("Check the lock")


def long_ids(rows: Rows) -> None:
    """Every id is as long as it may be: a room, a case, a tray, a set, a lot, a place, a step, a station."""
    pieces = ("C-2", "T-KNEE", "KNEE-01", "L1", "sterilizers", "100002")
    words = ("OR 2", "BASIC-01", "A-02", "washers", "steam")
    new = {one: long_name(one, gaps=one in words, most=40 if one in ("C-2", "OR 2") else 60) for one in pieces + words}
    for table in rows.values():
        for row in table:
            row.update({head: new[value] for head, value in row.items() if isinstance(value, str) and value in new})


def other_scripts(rows: Rows) -> None:
    """Names in scripts that the sheets' fonts lack, written from right to left among them."""
    rows["Procedures"][0]["name"] = f"Knee repair {HEBREW}"
    rows["Procedures"][1]["name"] = CHINESE
    rows["Staff"][0]["name"] = ARABIC
    rows["Staff"][1]["name"] = "Dr. Tárn-Łęcki Ωραίος Жуков"
    rows["Items"][0]["name"] = HINDI
    rows["Items"][1]["name"] = "E\u0301ponge, 10 pack"  # an accent as a character of its own
    rows["Trays"][0]["name"] = f"{ARABIC} knee"
    rows["Schedule"][0]["notes"] = f"{HEBREW} \U0001f9ea"
    rows["Sets"][0]["place"] = rows["Lots"][0]["place"] = rows["Items"][0]["place"] = rows["Places"][0]["place"] = (
        "棚-01"
    )


def no_case(rows: Rows) -> None:
    """The only case was yesterday."""
    rows["Schedule"] = [{**rows["Schedule"][0], "day": date(2026, 11, 24), "status": "done"}]


def one_case(rows: Rows) -> None:
    """One case, and nothing else in the schedule."""
    del rows["Schedule"][1:]


def cancelled(rows: Rows) -> None:
    """Every case of the day is cancelled."""
    for row in rows["Schedule"]:
        row["status"] = "cancelled"


def over_midnight(rows: Rows) -> None:
    """The knee set is used until one in the morning and wanted again at five; the washers work at night."""
    rows["Schedule"][0].update({"start": time(22, 30), "minutes": 150})
    rows["Schedule"][2].update({"day": date(2026, 11, 27), "start": time(5, 0)})
    rows["Hours"][0].update({"from": time(18, 0), "to": time(4, 0)})


def clocks_change(day: date) -> Callable[[Rows], None]:
    """A case goes over the night's change, and its set is wanted again in the morning; the machines work at night."""

    def change(rows: Rows) -> None:
        eve = date(day.year, day.month, day.day - 1) if day.day > 1 else date(2026, 10, 31)
        rows["Schedule"][0].update({"day": eve, "start": time(23, 0), "minutes": 240})
        rows["Schedule"][1].update({"day": day, "start": time(1, 30) if day == AUTUMN else time(3, 30)})
        rows["Schedule"][2].update({"day": day, "start": time(7 if day == SPRING else 5, 0)})
        rows["Hours"][0].update({"from": time(18, 0), "to": time(12, 0)})
        rows["Sets"][1].update({"state": "on shelf", "place": "A-01", "step": None, "step since": None})

    return change


@dataclass(frozen=True, slots=True, kw_only=True)
class Extreme:
    """What is changed of the evening, the day whose carts are built, and when."""

    change: Callable[[Rows], None]
    day: date = DAY
    now: datetime = NOW

    def write(self, site: Path) -> None:
        """Write the site's tables."""
        rows = three_cases()
        self.change(rows)
        write_tables(site, rows)


EXTREMES = {
    "long card": Extreme(change=long_card),
    "long names": Extreme(change=long_names),
    "long ids": Extreme(change=long_ids),
    "other scripts": Extreme(change=other_scripts),
    "no case": Extreme(change=no_case),
    "one case": Extreme(change=one_case),
    "all cancelled": Extreme(change=cancelled),
    "over midnight": Extreme(change=over_midnight),
    "spring": Extreme(change=clocks_change(SPRING), day=SPRING, now=datetime(2027, 3, 13, 18)),  # noqa: DTZ001
    "autumn": Extreme(change=clocks_change(AUTUMN), day=AUTUMN, now=datetime(2026, 10, 31, 18)),  # noqa: DTZ001
}
