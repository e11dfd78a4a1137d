"""Inputs spoiled by chance, as typing, other programs and bad disks spoil them; the same seed spoils in the same way.

A *dress* is another way to write the same: what is understood must stay the same, or a problem must say why
not. All else may mean something else afterwards, and must only be read or be reported.
"""

from __future__ import annotations

import csv
import io
import json
import re
import warnings
import zipfile
from collections.abc import Callable, Iterable
from datetime import date, datetime, time, timedelta
from random import Random
from typing import Any

import openpyxl

Spoil = Callable[[bytes, Random], bytes]

DAYS_AND_NUMBERS = (
    "2026-11-26|26.11.2026|11/12/26|29.2.2027|0000-00-00|24:00|7.30|07h30|25:61|+1|1e5|1,5|1.000,5|½|٣|２|3 |"
    "\u200b2|2\u00a0|0x10|1_000|-0|NaN|inf|yes|no|none|x|?|#REF!|=1+1"
)
WORDS = (
    "S01|s01|S 01|SO1|KNEE|KNEE; HERNIA|T-KNEE|100001|C-1|C-1.R1|OR 1|OR\u202f1|Ωμέγα|עברית שמאל|مرحبا|手術 一|"
    "e\u0301te\u0301|\U0001f600|\ufeffC-1|a\nb|a\tb|\u202eabc|\u2028|'|\"|<b>|{{ 7*7 }}|../..|%s%n|ß|İ|ﬁ"
)
TYPED: tuple[Any, ...] = (
    *(None, "", " ", 0, 1, 2, -1, 3.5, 1e308, 10**15, 100001, 100001.0, True, False),
    *(date(2026, 11, 26), datetime(2026, 11, 26, 7, 30), time(7, 30), time(23, 59, 59), timedelta(hours=30)),  # noqa: DTZ001
    *(date(1900, 1, 1), datetime(9999, 12, 31, 23, 59), datetime(2027, 3, 14, 2, 30), datetime(2026, 11, 1, 1, 30)),  # noqa: DTZ001
    *DAYS_AND_NUMBERS.split("|"),
    *WORDS.split("|"),
    *("9" * 400, "x" * 300, "y" * 32767),
)
SIGNS = "\0\t\n\r\x0b\x1c\x1d\x85\u00a0\u200b\u2028\ufeff,;|^~\\&\"'.-+:/ 0123456789aZé手ש"


def spoil(data: bytes, rng: Random, ways: Iterable[Spoil]) -> bytes:
    """Spoil in one to three of the ways."""
    chosen = tuple(ways)
    for _ in range(rng.choice((1, 1, 2, 3))):
        data = rng.choice(chosen)(data, rng)
    return data


# Bytes of any file.


def cut_off(data: bytes, rng: Random) -> bytes:
    """As a copy that was broken off."""
    return data[: rng.randrange(len(data) + 1)]


def flip(data: bytes, rng: Random) -> bytes:
    """A few bytes that a disk got wrong."""
    made = bytearray(data)
    for _ in range(rng.choice((1, 2, 20))):
        if made:
            made[rng.randrange(len(made))] = rng.randrange(256)
    return bytes(made)


def splice(data: bytes, rng: Random) -> bytes:
    """A piece lost, doubled, or put elsewhere."""
    start, end = sorted(rng.randrange(len(data) + 1) for _ in range(2))
    end = min(end, start + rng.choice((1, 10, 400)))
    piece, rest = data[start:end], data[:start] + data[end:]
    at = rng.randrange(len(rest) + 1)
    return rng.choice((rest, data[:end] + piece + data[end:], rest[:at] + piece + rest[at:]))


def other_bytes(data: bytes, rng: Random) -> bytes:
    """Something else altogether."""
    return rng.choice((b"", b"\0" * 100, b"PK\x03\x04", b"%PDF-1.7", b"\xff\xfe", data * 3, rng.randbytes(300)))


BYTES: tuple[Spoil, ...] = (cut_off, flip, splice, other_bytes)


# Parts of a workbook, which is a zip of XML.


def alter_a_part(data: bytes, rng: Random) -> bytes:
    """Lose, cut, swell or garble one part of the package; the zip itself stays sound."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as book:
            parts = {name: book.read(name) for name in book.namelist()}
    except Exception:  # of what cannot be unpacked, of any kind
        return data
    if not parts:
        return data
    name = rng.choice(sorted(parts))
    part = parts[name]
    ways: tuple[Callable[[], bytes | None], ...] = (
        lambda: None,
        lambda: cut_off(part, rng),
        lambda: flip(part, rng),
        lambda: splice(part, rng),
        lambda: b"",
        lambda: _other_number(part, rng),
        lambda: _other_tag(part, rng),
        lambda: b"<a>" * 50_000,
    )
    made = rng.choice(ways)()
    if made is None:
        del parts[name]
    else:
        parts[name] = made
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as book:
        for one, content in parts.items():
            book.writestr(one, content)
    return out.getvalue()


def _other_number(part: bytes, rng: Random) -> bytes:
    found = list(re.finditer(rb"\d+", part))
    if not found:
        return part
    one = rng.choice(found)
    number = rng.choice((b"0", b"-1", b"99999999", b"1048577", b"9" * 30, b"1e999", b""))
    return part[: one.start()] + number + part[one.end() :]


def _other_tag(part: bytes, rng: Random) -> bytes:
    found = list(re.finditer(rb' ([a-z]+)="[^"]*"', part))
    if not found:
        return part
    one = rng.choice(found)
    value = rng.choice(
        (b"", b' t="e"', b' t="b"', b' t="s"', b' t="inlineStr"', b' r="ZZZ9"', b' r="A0"', b' s="9999"')
    )
    return part[: one.start()] + value + part[one.end() :]


# Cells of a workbook.


def in_workbook(change: Callable[[Any, Random], None]) -> Spoil:
    """A change that is made with a spreadsheet program; a file that none opens stays as it is."""

    def made(data: bytes, rng: Random) -> bytes:
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                book = openpyxl.load_workbook(io.BytesIO(data))
                change(book[rng.choice(book.sheetnames)], rng)
                out = io.BytesIO()
                book.save(out)
        except Exception:  # the spreadsheet library's own, of any kind
            return data
        return out.getvalue()

    return made


def _type_in(sheet: Any, rng: Random) -> None:
    for _ in range(rng.choice((1, 1, 3, 8))):
        cell = sheet.cell(rng.randint(1, sheet.max_row), rng.randint(1, sheet.max_column))
        cell.value = rng.choice(TYPED)


def _type_in_form(sheet: Any, rng: Random) -> None:
    """In the rows and columns that are there to be filled in."""
    cells = [
        cell
        for row in sheet.iter_rows(min_row=4, max_row=min(sheet.max_row, 60))
        for cell in row
        if not cell.protection.locked
    ]
    for _ in range(rng.choice((1, 2, 5))):
        if cells:
            rng.choice(cells).value = rng.choice(TYPED)


def _move_rows(sheet: Any, rng: Random) -> None:
    row, column = rng.randint(1, sheet.max_row), rng.randint(1, sheet.max_column)
    ways: tuple[Callable[[], object], ...] = (
        lambda: sheet.insert_rows(row, rng.choice((1, 3))),
        lambda: sheet.delete_rows(row),
        lambda: sheet.insert_cols(column),
        lambda: sheet.delete_cols(column),
        lambda: sheet.merge_cells(start_row=row, start_column=column, end_row=row + 1, end_column=column + 2),
        lambda: setattr(sheet.row_dimensions[row], "hidden", True),
        lambda: sheet.cell(1_048_576, column, "far"),
        lambda: sheet.cell(row, 16_384, "far"),
        lambda: sheet.append([cell.value for cell in sheet[row]]),
    )
    rng.choice(ways)()


def _alter_sheets(sheet: Any, rng: Random) -> None:
    book = sheet.parent
    ways: tuple[Callable[[], object], ...] = (
        lambda: setattr(sheet, "title", rng.choice(("Sheet1", "手術", "x" * 31, sheet.title + " "))),
        lambda: book.copy_worksheet(sheet),
        lambda: book.remove(sheet),
        lambda: book.create_sheet("Notes", 0),
        lambda: setattr(sheet, "sheet_state", "hidden"),
        lambda: book.move_sheet(sheet, len(book.sheetnames)),
    )
    rng.choice(ways)()


CELLS: tuple[Spoil, ...] = tuple(in_workbook(one) for one in (_type_in, _type_in_form, _move_rows, _alter_sheets))
WORKBOOK: tuple[Spoil, ...] = (*CELLS, *CELLS, alter_a_part, *BYTES)


def _numbers_as_text(sheet: Any, rng: Random) -> None:
    for row in sheet.iter_rows():
        for cell in row:
            if type(cell.value) is int and rng.random() < 0.5:
                cell.value = f" {cell.value}"


def _heads_in_other_letters(sheet: Any, rng: Random) -> None:
    heads = 3 if sheet.cell(1, 2).value is None else 1  # a form has its title above
    for row in sheet.iter_rows(min_row=heads, max_row=heads):
        for cell in row:
            if isinstance(cell.value, str) and rng.random() < 0.5:
                cell.value = rng.choice((str.upper, str.title, lambda text: f"  {text} "))(cell.value)


def _blank_row_at_end(sheet: Any, rng: Random) -> None:
    sheet.cell(sheet.max_row + rng.randint(1, 3), 1).value = " "


def _saved_again(_sheet: Any, _rng: Random) -> None:
    pass


DRESS_WORKBOOK: tuple[Spoil, ...] = tuple(
    in_workbook(one) for one in (_numbers_as_text, _heads_in_other_letters, _blank_row_at_end, _saved_again)
)


# Texts: CSV files, scans and messages.


def in_text(change: Callable[[str, Random], str]) -> Spoil:
    """A change of a text in UTF-8."""

    def made(data: bytes, rng: Random) -> bytes:
        return change(data.decode("utf-8", errors="surrogateescape"), rng).encode("utf-8", errors="surrogateescape")

    return made


def _move_lines(text: str, rng: Random) -> str:
    lines = re.split("(?<=[\r\n])", text)
    at = rng.randrange(len(lines))
    line = lines[at]
    swapped = [*lines]
    rng.shuffle(swapped)
    return "".join(rng.choice(([*lines[:at], *lines[at + 1 :]], [*lines[:at], line, *lines[at:]], swapped, lines[:at])))


def _strike_signs(text: str, rng: Random) -> str:
    made = [*text]
    for _ in range(rng.choice((1, 2, 6))):
        if not made:
            break
        at = rng.randrange(len(made))
        made[at] = rng.choice((made[at] * 2, "", rng.choice(SIGNS), made[at] + rng.choice(SIGNS), made[at].swapcase()))
    return "".join(made)


def _other_field(text: str, rng: Random) -> str:
    """One of the fields between separators says something else."""
    found = [one for one in re.finditer(r"[^,;|^~&\r\n]+", text) if one.group().strip()]
    if not found:
        return text
    one = rng.choice(found)
    return f"{text[: one.start()]}{_word(rng)}{text[one.end() :]}"


def _word(rng: Random) -> str:
    value = rng.choice(TYPED)
    return "" if value is None else str(value)


def other_encoding(data: bytes, rng: Random) -> bytes:
    """The same text in another encoding."""
    text = data.decode("utf-8", errors="replace")
    return text.encode(rng.choice(("utf-16", "utf-16-le", "utf-32", "cp1252", "latin-1", "cp500")), errors="replace")


def long_line(data: bytes, rng: Random) -> bytes:
    """One line that does not end."""
    at = rng.randrange(len(data) + 1)
    return (
        data[:at] + rng.choice((b"x", b"|", b",", b"^", b"9", b"\\", b" ")) * rng.choice((5_000, 300_000)) + data[at:]
    )


LINES: tuple[Spoil, ...] = tuple(in_text(one) for one in (_move_lines, _strike_signs, _other_field))
TEXT: tuple[Spoil, ...] = (*LINES, *LINES, other_encoding, long_line, *BYTES)


def _other_line_ends(text: str, rng: Random) -> str:
    return re.sub("\r\n|\r|\n", rng.choice(("\r", "\n", "\r\n")), text)


def _with_mark(text: str, _rng: Random) -> str:
    return "\ufeff" + text.removeprefix("\ufeff")


DRESS_TEXT: tuple[Spoil, ...] = (in_text(_other_line_ends), in_text(_with_mark))


def other_dialect(data: bytes, rng: Random) -> bytes:
    """A CSV file as another program saves it: its separator, its quotes, its line ends."""
    rows = csv.reader(io.StringIO(data.decode("utf-8-sig"), newline=""))
    out = io.StringIO(newline="")
    writer = csv.writer(
        out,
        delimiter=rng.choice(",;\t"),
        quoting=rng.choice((csv.QUOTE_ALL, csv.QUOTE_MINIMAL)),
        lineterminator=rng.choice(("\n", "\r\n")),
    )
    writer.writerows([*rows, *([[]] * rng.randint(0, 2))])
    return out.getvalue().encode(rng.choice(("utf-8", "utf-8-sig", "utf-16")))


# JSON.


def alter_json(data: bytes, rng: Random) -> bytes:
    """One value of a JSON text becomes another, of whatever type; a line of NDJSON is a text of its own."""
    lines = data.decode("utf-8", errors="replace").splitlines()
    at = rng.randrange(len(lines)) if lines else 0
    whole, ndjson = "\n".join(lines), False
    try:
        found = json.loads(whole)
    except (ValueError, RecursionError):
        try:
            found, ndjson = json.loads(lines[at]), True
        except (ValueError, IndexError, RecursionError):
            return data
    made = json.dumps(_altered([found], rng)[0], ensure_ascii=rng.random() < 0.5)
    made = made.replace('"(huge)"', "9" * 5000).replace('"(deep)"', "[" * 20_000)
    return ("\n".join((*lines[:at], made, *lines[at + 1 :])) if ndjson else made).encode("utf-8", "surrogatepass")


def _altered(top: list[Any], rng: Random) -> list[Any]:
    places: list[tuple[Any, Any]] = []

    def visit(node: Any) -> None:
        for key in node if isinstance(node, dict) else range(len(node)):
            places.append((node, key))
            if isinstance(node[key], dict | list):
                visit(node[key])

    visit(top)
    node, key = rng.choice(places)
    other: tuple[Any, ...] = (
        None,
        0,
        -1,
        1.5,
        True,
        "",
        "x",
        [],
        {},
        [[]],
        [None],
        {"": None},
        "(huge)",
        "(deep)",
        1e400,
        "\ud800",
    )
    typed = tuple(str(one) for one in TYPED)
    if rng.random() < 0.2 and isinstance(node, dict):
        del node[key]
    elif rng.random() < 0.2 and isinstance(node, list):
        node.append(node[key])
    else:
        node[key] = rng.choice((*other, *rng.sample(typed, 4)))
    return top


def key_order(data: bytes, rng: Random) -> bytes:
    """The same JSON with its keys in another order, over several lines."""
    found = json.loads(data)

    def turned(node: Any) -> Any:
        if isinstance(node, dict):
            keys = list(node)
            rng.shuffle(keys)
            return {key: turned(node[key]) for key in keys}
        return [turned(one) for one in node] if isinstance(node, list) else node

    return json.dumps(turned(found), indent=rng.choice((None, 2))).encode()


JSON: tuple[Spoil, ...] = (alter_json, alter_json, alter_json, *TEXT)


# Forms of the page.


def spoil_form(fields: dict[str, str], rng: Random) -> dict[str, str]:
    """A filled form in which some fields say something else, are lost or are added; the token stays."""
    made = dict(fields)
    names = sorted(name for name in made if name != "token")
    for _ in range(rng.choice((1, 2, 4))):
        name = rng.choice((*names, "x")) if names else "x"
        way = rng.random()
        if way < 0.15:
            made.pop(name, None)
        elif way < 0.25:
            made[name + rng.choice(("2", " ", "\0", "手"))] = _word(rng)
        elif way < 0.35 and names:
            made[name] = made.get(rng.choice(names), "")
        else:
            made[name] = _word(rng)
    return made
