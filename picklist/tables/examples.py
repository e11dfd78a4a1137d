"""Lines that show how each table is filled in; together they make a tiny site without problems."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from datetime import date, timedelta
from string import Template
from typing import Any

from picklist.tables.columns import CellType
from picklist.tables.parse import ColumnParser
from picklist.tables.schema import BY_NAME, SETTING_ROWS

EXAMPLE = "EXAMPLE"  # every id of an example begins with it, so that nobody takes one for their own
TYPED = frozenset({CellType.WHOLE, CellType.NUMBER, CellType.DATE, CellType.TIME, CellType.YES_NO})

# Each table as a CSV file would hold it; a column that is not here is left empty. What begins with $ is a day.
LINES: dict[str, str] = {
    "Schedule": """\
case,day,room,start,minutes,surgeon,procedures,side,patient size,teams at once,status,may move,priority,notes
EXAMPLE-1,$tomorrow,EXAMPLE-OR,07:30,90,EXAMPLE-S1,EXAMPLE-KNEE,left,adult,1,planned,yes,1,\
Example line: bring the spare battery
""",
    "Procedures": """\
procedure,name,service,pack
EXAMPLE-KNEE,Example knee repair,Orthopedics,EXAMPLE-PACK
""",
    "Cards": """\
procedure,surgeon,change,kind,thing,open,hold,counted,from,approved,note
EXAMPLE-KNEE,every,add,tray,EXAMPLE-TRAY,1,0,per case,$new_year,yes,Example line
""",
    "Items": """\
item,name,unit,class,size,place,latex,kept back,retired
EXAMPLE-100,"Example drape, large",each,supply,,EXAMPLE-A-01,no,0,no
EXAMPLE-101,Example glove 7.5,pair,outer glove,7.5,EXAMPLE-A-01,no,4,no
EXAMPLE-102,Example gown L,each,gown,L,EXAMPLE-A-01,no,0,no
""",
    "Packs": """\
pack,name,item,quantity
EXAMPLE-PACK,Example knee pack,EXAMPLE-100,2
""",
    "Trays": """\
tray,name,route,weight lb,container,sided,implants,latex,kept ready,count sheet,retired
EXAMPLE-TRAY,Example knee tray,EXAMPLE-STEAM,17.5,no,no,no,no,0,yes,no
""",
    "Tray contents": """\
tray,instrument,quantity
EXAMPLE-TRAY,"Example needle holder, 7 in",2
""",
    "Sets": """\
set,tray,state,place
EXAMPLE-TRAY-01,EXAMPLE-TRAY,on shelf,EXAMPLE-A-01
""",
    "Lots": """\
item,lot,quantity,expiry,place
EXAMPLE-PACK,EXAMPLE-L1,12,$in_three_years,EXAMPLE-A-01
""",
    "Places": """\
place,walking order,area,building
EXAMPLE-A-01,10,Example store,EXAMPLE-MAIN
""",
    "Routes": """\
route,step,after,usual minutes,least minutes,station,begins in,cycle,temperature C,exposure minutes,drying minutes
EXAMPLE-STEAM,washer,start,60,40,EXAMPLE-WASHER,decontamination,,,,
EXAMPLE-STEAM,sterilizer,washer,70,60,EXAMPLE-STERILIZER,decontamination,pre-vacuum,132,4,25
EXAMPLE-STEAM,cooling,sterilizer,60,30,,decontamination,,,,
""",
    "Stations": """\
station,machines,trays per load,start every,may run past closing,longest wait
EXAMPLE-WASHER,2,6,0,no,15
EXAMPLE-STERILIZER,1,8,0,no,15
""",
    "Hours": """\
station,weekday,from,to
EXAMPLE-WASHER,daily,06:00,23:30
""",
    "Departures": """\
run,weekday,time
EXAMPLE-VAN,Mon-Fri,13:00
""",
    "Holidays": """\
day,station
$holiday,EXAMPLE-VAN
""",
    "Transfers": """\
from building,to building,minutes,run
EXAMPLE-MAIN,EXAMPLE-ANNEX,20,EXAMPLE-VAN
EXAMPLE-ANNEX,EXAMPLE-MAIN,20,EXAMPLE-VAN
""",
    "Staff": """\
person,name,role,outer glove,gown
EXAMPLE-S1,Dr. Example,surgeon,7.5,L
""",
    "Rooms": """\
room,opens,closes,building
EXAMPLE-OR,07:00,19:00,EXAMPLE-ANNEX
""",
    "Past cases": """\
procedure,surgeon,planned minutes,actual minutes,room,planned start,actual start
EXAMPLE-KNEE,EXAMPLE-S1,90,104,EXAMPLE-OR,$last_month 07:30,$last_month 07:42
""",
    "Codes": """\
code,field,means,value
EXAMPLE-ROOM-4,AIL-3,room,EXAMPLE-OR
""",
    "Export": """\
header,code,means,value
EXAMPLE Room,,room,
EXAMPLE Room,EXAMPLE 04,room,EXAMPLE-OR
""",
}


def example_rows(today: date) -> dict[str, tuple[dict[str, Any], ...]]:
    """The example lines of each table, with days that are to come on the day on which they are written."""
    christmas = date(today.year, 12, 25)
    days = {
        "tomorrow": (today + timedelta(days=1)).isoformat(),
        "new_year": date(today.year, 1, 1).isoformat(),
        "holiday": (christmas if christmas > today else date(today.year + 1, 12, 25)).isoformat(),
        "last_month": (today - timedelta(days=30)).isoformat(),
        "in_three_years": f"{today.year + 3}-06",
    }
    settings = ({"setting": one.name, "value": one.default or one.example, "meaning": one.help} for one in SETTING_ROWS)
    return {name: rows_of(name, lines, days) for name, lines in LINES.items()} | {"Settings": tuple(settings)}


def rows_of(name: str, lines: str, words: Mapping[str, str]) -> tuple[dict[str, Any], ...]:
    """The lines of a table, as its CSV file would hold them, with words in the place of what begins with $.

    Numbers, days, times and yes or no as values, all else as text.
    """
    table = BY_NAME[name]
    parsers = {column.name: ColumnParser(column) for column in table.columns if column.type in TYPED}
    return tuple(
        {column: parsers[column](text)[0] if column in parsers else text for column, text in line.items() if text}
        for line in csv.DictReader(io.StringIO(Template(lines).substitute(words)))
    )
