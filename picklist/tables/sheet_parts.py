"""The parts of a workbook file that belong to one sheet, found without touching anything."""

from __future__ import annotations

import posixpath
import zipfile
from collections.abc import Callable
from xml.parsers import expat

Attributes = dict[str, str]
DAY_AND_HOURS = "22"  # of the built-in formats (ECMA-376 part 1, 18.8.30)


def walk_xml(xml: bytes, start: Callable[[str, Attributes], None]) -> None:
    """Call ``start`` with the plain name and attributes of every element, in order."""
    parser = expat.ParserCreate()
    parser.StartElementHandler = lambda name, attributes: start(name.rpartition(":")[2], attributes)
    parser.Parse(xml, True)


def sheet_part(archive: zipfile.ZipFile, sheet: str) -> str:
    """The name of the part that holds a sheet. Raises KeyError when there is none."""
    ids: dict[str, str] = {}

    def take(name: str, attributes: Attributes) -> None:
        if name == "sheet":
            ids[attributes["name"]] = next(value for key, value in attributes.items() if key.endswith(":id"))

    walk_xml(archive.read("xl/workbook.xml"), take)
    return related_parts(archive, "xl/workbook.xml")[ids[sheet]][1]


def related_parts(archive: zipfile.ZipFile, part: str) -> dict[str, tuple[str, str]]:
    """The parts that a part refers to: id -> (last word of the kind, name of the part)."""
    folder, _, name = part.rpartition("/")
    relations = f"{folder}/_rels/{name}.rels"
    found: dict[str, tuple[str, str]] = {}
    if relations not in archive.namelist():
        return found

    def take(name: str, attributes: Attributes) -> None:
        if name == "Relationship" and attributes.get("TargetMode") != "External":
            target = attributes["Target"]
            path = target.lstrip("/") if target.startswith("/") else posixpath.normpath(f"{folder}/{target}")
            found[attributes["Id"]] = (attributes["Type"].rpartition("/")[2], path)

    walk_xml(archive.read(relations), take)
    return found


def date_styles(styles: bytes) -> tuple[frozenset[int], frozenset[int]]:
    """Numbers of the cell styles that show a day, and of those among them that show its hours too."""
    formats: dict[str, str] = {}
    dated: set[int] = set()
    timed: set[int] = set()
    state = {"inside": False, "number": 0}

    def take(name: str, attributes: Attributes) -> None:
        if name == "numFmt":
            formats[attributes.get("numFmtId", "")] = attributes.get("formatCode", "")
        elif name in ("cellXfs", "cellStyles", "cellStyleXfs", "dxfs"):
            state["inside"] = name == "cellXfs"
        elif name == "xf" and state["inside"]:
            number = attributes.get("numFmtId", "0")
            if _shows_a_day(number, formats):
                dated.add(state["number"])
                if number == DAY_AND_HOURS or "h" in formats.get(number, "").casefold():
                    timed.add(state["number"])
            state["number"] += 1

    walk_xml(styles, take)
    return frozenset(dated), frozenset(timed)


def _shows_a_day(number: str, formats: dict[str, str]) -> bool:
    if number in ("14", "15", "16", "17", "22"):
        return True
    code = formats.get(number, "").casefold()
    return "y" in code and "d" in code and "[" not in code.replace("[$", "")
