"""Schedules as other systems export them: five files of different habits, invented, and what Export says of them."""

from __future__ import annotations

import io
from dataclasses import dataclass
from datetime import datetime, timedelta

import openpyxl
from openpyxl.worksheet.worksheet import Worksheet

EXPECTED = [
    ("C-1", "2026-11-26 07:30", "OR 1", 90, "S01", ("KNEE",), "left"),
    ("C-2", "2026-11-26 13:05", "OR 2", 60, "S02", ("HERNIA",), "none"),
]
"""What each of them says: number, start, room, minutes, surgeon, procedures, side."""

CODES = """\
{room},OR 01,room,OR 1
{room},OR 02,room,OR 2
{surgeon},QUILL,surgeon,S01
{surgeon},TARN,surgeon,S02
{procedure},Knee repair,procedures,KNEE
{procedure},Hernia repair,procedures,HERNIA
{side},LT,side,left
{side},-,side,none
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Exported:
    """A file of an export: its name and contents, the table Export for it, and what the notice must name."""

    name: str
    data: bytes
    export: str
    said: tuple[str, ...]


def export_table(headers: str, **names: str) -> str:
    """The table Export as CSV: headers with what they mean, and the codes beneath those that are named."""
    lines = [f"{header},,{means}," for header, means in (line.split("=") for line in headers.split("; "))]
    return "\n".join(["header,code,means,value", *lines, CODES.format(**names)])


SEMICOLONS = Exported(
    name="saal_2026-11-26.csv",
    data=(
        "Fall;Datum;Saal;Beginn;Dauer (h);Operateur;Eingriff;Seite;Patient;Größe\r\n"
        "C-1;26.11.2026;OR 01;07:30;1,5;QUILL;Knee repair;LT;Wrenfield Oda;172,5\r\n"
        "C-2;26.11.2026;OR 02;13.05;1,0;TARN;Hernia repair;-;Wrenfield Ida;168,0\r\n"
        "Summe;;;;2,5;;;;;\r\n"
    ).encode("cp1252"),
    export=export_table(
        "Fall=case; Datum=day; Saal=room; Beginn=start; Dauer (h)=hours; Operateur=surgeon; "
        "Eingriff=procedures; Seite=side",
        room="Saal",
        surgeon="Operateur",
        procedure="Eingriff",
        side="Seite",
    ),
    said=("semicolons between cells", "code page 1252", "row 4 holds no case", "not read: no. 9, no. 10"),
)

TWELVE_HOURS = Exported(
    name="OR board.csv",
    data=(
        "\ufeffNorth Hospital - surgical schedule\r\n"
        "Printed: 11/25/2026 4:10 PM\r\n"
        "\r\n"
        "Date,Room,Time,Length,Case No.,Surgeon,Procedure,Lat,MRN\r\n"
        "11/26/2026,OR 01,7:30a,1:30,C-1,QUILL,Knee repair,LT,4829130\r\n"
        ",OR 02,105 PM,1:00,C-2,TARN,Hernia repair,-,4829131\r\n"
        "Total cases: 2,,,,,,,,\r\n"
        "Page 1 of 1,,,,,,,,\r\n"
    ).encode(),
    export=export_table(
        "Date=day; Room=room; Time=start; Length=minutes; Case No.=case; Surgeon=surgeon; "
        "Procedure=procedures; Lat=side",
        room="Room",
        surgeon="Surgeon",
        procedure="Procedure",
        side="Lat",
    ),
    said=(
        "a byte order mark",
        "2 title lines",
        "rows 7 to 8 hold no case",
        "what row 6 left out was taken from the row above",
        "lengths such as 1:30 are hours and minutes",
    ),
)

START_AND_END = Exported(
    name="theatre list.tsv",
    data=(
        "Case\tScheduled\tScheduled end\tTheatre\tConsultant\tOperation\tLaterality\tDate of birth\n"
        "C-1\t26 Nov 2026 07:30\t26 Nov 2026 09:00\tOR 01\tQUILL\tKnee repair\tLT\t1952-03-04\n"
        "Case\tScheduled\tScheduled end\tTheatre\tConsultant\tOperation\tLaterality\tDate of birth\n"
        "C-2\t26 Nov 2026 13:05\t26 Nov 2026 14:05\tOR 02\tTARN\tHernia repair\t-\t1961-07-01\n"
    ).encode("utf-16"),
    export=export_table(
        "Case=case; Scheduled=day; Scheduled=start; Scheduled end=end; Theatre=room; Consultant=surgeon; "
        "Operation=procedures; Laterality=side",
        room="Theatre",
        surgeon="Consultant",
        procedure="Operation",
        side="Laterality",
    ),
    said=("tabs between cells", "UTF-16", "row 3 holds the header again"),
)


def _workbook(fill: object) -> bytes:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "Export 1"
    fill(sheet)  # type: ignore[operator]
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _merged(sheet: Worksheet) -> None:
    """Two header rows, the day merged over its cases, real days and times."""
    sheet.append(["Case", "When", None, None, "Where", "Who", None, "What", None])
    sheet.append([None, "Day", "From", "Time needed", "OR", "Surgeon", "Patient", "Procedure", "Side"])
    rows = (
        ("C-1", "07:30", 90, "OR 01", "QUILL", "Knee repair", "LT"),
        ("C-2", "13:05", 60, "OR 02", "TARN", "Hernia repair", "-"),
    )
    for number, start, minutes, room, surgeon, procedure, side in rows:
        day = datetime(2026, 11, 26) if number == "C-1" else None  # noqa: DTZ001 - a wall day
        at = datetime.strptime(start, "%H:%M").time()  # noqa: DTZ007
        sheet.append([number, day, at, timedelta(minutes=minutes), room, surgeon, "Wrenfield", procedure, side])
    for cells in ("B1:D1", "F1:G1", "H1:I1", "B3:B4"):
        sheet.merge_cells(cells)


MERGED = Exported(
    name="week 48.xlsx",
    data=_workbook(_merged),
    export=export_table(
        "Case=case; When / Day=day; When / From=start; When / Time needed=minutes; Where / OR=room; "
        "Who / Surgeon=surgeon; What / Procedure=procedures; What / Side=side",
        room="Where / OR",
        surgeon="Who / Surgeon",
        procedure="What / Procedure",
        side="What / Side",
    ),
    said=("2 header rows", "what row 4 left out", "not read: G"),
)


def _plain_sheet(sheet: Worksheet) -> None:
    """Several procedures in a cell, days as text, times as numbers, a line of totals beneath."""
    sheet.append(["OR schedule"])
    sheet.append(
        ["Booking #", "Surgery date", "Suite", "Wheels in", "Est. min", "Provider", "Procedure(s)", "Side", "Pt name"]
    )
    sheet.append(["C-1", "2026-11-26", "OR 01", "0730", "90 min", "QUILL", "Knee repair", "LT", "Wrenfield"])
    sheet.append(["C-2", "2026-11-26", "OR 02", 1305, "60 min", "TARN", "Hernia repair", "-", "Wrenfield"])
    sheet.append(["TOTAL", None, None, None, 150, None, None, None, None])


PLAIN_SHEET = Exported(
    name="or schedule export.xlsx",
    data=_workbook(_plain_sheet),
    export=export_table(
        "Booking #=case; Surgery date=day; Suite=room; Wheels in=start; Est. min=minutes; Provider=surgeon; "
        "Procedure(s)=procedures; Side=side",
        room="Suite",
        surgeon="Provider",
        procedure="Procedure(s)",
        side="Side",
    ),
    said=("1 title line above", "row 5 holds no case", "not read: I"),
)

FILES = (SEMICOLONS, TWELVE_HOURS, START_AND_END, MERGED, PLAIN_SHEET)
