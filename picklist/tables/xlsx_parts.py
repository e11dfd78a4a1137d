"""The parts of a workbook file: which holds a sheet, what each refers to, and how its styles show a cell."""

from __future__ import annotations

import posixpath
import re
import zipfile
from collections.abc import Callable
from xml.parsers import expat

Attributes = dict[str, str]
DAY_AND_HOURS, MONTH_AND_YEAR = "22", "17"  # of the built-in formats (ECMA-376 part 1, 18.8.30)
NOT_SHOWN = re.compile(r"\[[^]]*\]|\"[^\"]*\"|\\.")  # of a format: colours and languages; texts are no letters of it
LISTS_OF_STYLES = ("cellXfs", "cellStyles", "cellStyleXfs", "dxfs")


class XmlTrapError(Exception):
    """The XML declares entities of its own, which no spreadsheet program does."""


def walk_xml(
    xml: bytes,
    start: Callable[[str, Attributes], None],
    end: Callable[[str], None] | None = None,
    text: Callable[[str], None] | None = None,
) -> None:
    """Call ``start`` with the plain name and attributes of every element, in order; ``end`` and ``text`` likewise.

    Raises expat.ExpatError for bad XML, XmlTrapError for entities.
    """
    parser = expat.ParserCreate()
    parser.StartElementHandler = lambda name, attributes: start(name.rpartition(":")[2], attributes)
    if end:
        parser.EndElementHandler = lambda name: end(name.rpartition(":")[2])
    if text:
        parser.CharacterDataHandler = text
    parser.StartDoctypeDeclHandler = _refuse
    parser.Parse(xml, True)


def _refuse(*_: object) -> None:
    raise XmlTrapError


def sheet_parts(archive: zipfile.ZipFile) -> dict[str, str]:
    """The name of the part of each sheet, by the sheet's name; empty where the workbook does not say."""
    ids: dict[str, str] = {}

    def take(name: str, attributes: Attributes) -> None:
        if name == "sheet":
            found = (value for key, value in attributes.items() if key.endswith(":id"))
            ids[attributes.get("name", "")] = next(found, "")

    walk_xml(archive.read("xl/workbook.xml"), take)
    related = related_parts(archive, "xl/workbook.xml")
    return {sheet: related.get(one, ("", ""))[1] for sheet, one in ids.items()}


def related_parts(archive: zipfile.ZipFile, part: str) -> dict[str, tuple[str, str]]:
    """The parts that a part refers to: id -> (last word of the kind, name of the part)."""
    folder, _, name = part.rpartition("/")
    relations = f"{folder}/_rels/{name}.rels"
    found: dict[str, tuple[str, str]] = {}
    if relations not in archive.namelist():
        return found

    def take(name: str, attributes: Attributes) -> None:
        if name == "Relationship" and attributes.get("TargetMode") != "External":
            target = attributes.get("Target", "")
            whole = target.startswith(("/", "xl/"))  # some programs leave out the first slash
            path = target.lstrip("/") if whole else posixpath.normpath(f"{folder}/{target}")
            found[attributes.get("Id", "")] = (attributes.get("Type", "").rpartition("/")[2], path)

    walk_xml(archive.read(relations), take)
    return found


def cell_formats(styles: bytes) -> list[tuple[str, str]]:
    """How each cell style shows a number: the format's number, and its code where the workbook states one."""
    codes: dict[str, str] = {}
    found: list[tuple[str, str]] = []
    inside = False

    def take(name: str, attributes: Attributes) -> None:
        nonlocal inside
        if name == "numFmt":
            codes[attributes.get("numFmtId", "")] = attributes.get("formatCode", "")
        elif name in LISTS_OF_STYLES:
            inside = name == "cellXfs"
        elif name == "xf" and inside:
            number = attributes.get("numFmtId", "0")
            found.append((number, codes.get(number, "")))

    walk_xml(styles, take)
    return found


def month_styles(styles: bytes) -> frozenset[int]:
    """Numbers of the cell styles that show the month and year of a day alone, as spreadsheets do with 6/2027."""
    return frozenset(n for n, one in enumerate(cell_formats(styles)) if _shows_a_month(*one))


def _shows_a_month(number: str, code: str) -> bool:
    letters = NOT_SHOWN.sub("", code.casefold())
    return number == MONTH_AND_YEAR or ({"m", "y"} <= {*letters} and not {"d", "h", "s"} & {*letters})


def struck_styles(styles: bytes) -> frozenset[int]:
    """Numbers of the cell styles whose texts are struck through."""
    struck: list[bool] = []  # by font
    fonts: list[int] = []  # by cell style
    inside = ""

    def take(name: str, attributes: Attributes) -> None:
        nonlocal inside
        if name in ("fonts", *LISTS_OF_STYLES):
            inside = name
        elif name == "font" and inside == "fonts":
            struck.append(False)
        elif name == "strike" and inside == "fonts":
            struck[-1] = attributes.get("val") not in ("0", "false")
        elif name == "xf" and inside == "cellXfs":
            fonts.append(int(attributes.get("fontId", 0)))

    walk_xml(styles, take)
    return frozenset(n for n, font in enumerate(fonts) if font < len(struck) and struck[font])


def date_styles(styles: bytes) -> tuple[frozenset[int], frozenset[int]]:
    """Numbers of the cell styles that show a day, and of those among them that show its hours too."""
    dated = {n: one for n, one in enumerate(cell_formats(styles)) if _shows_a_day(*one)}
    timed = (n for n, (number, code) in dated.items() if number == DAY_AND_HOURS or "h" in code.casefold())
    return frozenset(dated), frozenset(timed)


def _shows_a_day(number: str, code: str) -> bool:
    if number in ("14", "15", "16", "22"):
        return True
    code = code.casefold()
    return "y" in code and "d" in code and "[" not in code.replace("[$", "")
