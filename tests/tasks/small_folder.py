"""A folder of a few small tables, as a site keeps them. All data is invented."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from pathlib import Path

from picklist.tasks.crew import ReportResult, scan_carts

DAY = date(2026, 11, 26)
EVENING = datetime(2026, 11, 25, 18, 0)  # noqa: DTZ001 - site wall time
THREE_FOR_TWO_SETS = (
    "M1,2026-11-26,OR 1,07:30,60,S1,P1,none,planned",
    "M2,2026-11-26,OR 2,08:00,60,S2,P1,none,planned",
    "M3,2026-11-26,OR 3,08:30,60,S3,P1,none,planned",
)
TABLES = {
    "Settings": """setting,value
site,Example Hospital
time zone,UTC
""",
    "Rooms": """room,building
OR 1,
OR 2,
OR 3,
""",
    "Staff": """person,name
S1,Dr. Example
S2,Dr. Sample
S3,Dr. Specimen
""",
    "Procedures": """procedure,name
P1,Wrist repair
""",
    "Trays": """tray,name,route,sided
T-WR,Wrist tray,R,no
""",
    "Routes": """route,step,after,usual minutes,least minutes
R,wash,,60,40
R,sterilize,wash,120,80
""",
    "Sets": """set,tray,side,state,in case,place
WR-01,T-WR,,on shelf,,A-1-1
WR-02,T-WR,,on shelf,,A-1-2
""",
    "Items": """item,name,unit,place
100001,Drape,each,B-1-1
""",
    "Lots": """item,lot,quantity,expiry,place
100001,L1,40,2030-01-31,B-1-1
""",
    "Cards": """procedure,surgeon,change,kind,thing,open,hold,approved
P1,,add,tray,T-WR,1,0,yes
""",
}

SCHEDULE = "case,day,room,start,minutes,surgeon,procedures,side,status"


def write_folder(folder: Path, *cases: str, **tables: str) -> Path:
    """A folder with the tables above, some replaced, and a schedule of rows without their day's table head."""
    folder.mkdir(exist_ok=True)
    for name, text in (TABLES | tables | {"Schedule": "\n".join((SCHEDULE, *cases)) + "\n"}).items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder


def tell_by_scans(folder: Path, lines: Iterable[str], now: datetime, day: date | None = None) -> ReportResult:
    """What was scanned, line by line, all at one moment."""
    return scan_carts(folder, lines, lambda: now, day)
