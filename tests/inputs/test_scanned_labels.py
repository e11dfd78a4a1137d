"""A maker's label scanned into a cell of a table is its item, lot and expiry; what contradicts it is named.

The HIBC labels are the worked examples of ANSI/HIBC 2.6 (Appendix B); 12345678901231 is a GTIN of the GS1 syntax
dictionary's examples.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest

from picklist.inputs import read_site
from picklist.problems import Problem, must_be_fixed
from picklist.tables.folder import read_table_files
from picklist.tables.row_edits import RowEdits
from picklist.tables.schema import BY_NAME
from tests.inputs.folders import NOW, Rows, read_changed

GTIN = "12345678901231"
LABEL = f"]d201{GTIN}17270600" + "10ABC123"
BOTH = "+A123BJC5D6E71/$$52001510X3C"
OF_GTIN = ("100001", "ABC123", date(2027, 6, 30))
OF_HIBC = ("100002", "10X3", date(2020, 1, 15))


def read(folder: Path, **lot: Any) -> tuple[list[tuple[str, str, object]], list[Problem]]:
    """(item, lot, expiry) of a site with that one row in Lots, and what is wrong."""

    def change(rows: Rows) -> None:
        rows["Items"][0]["GTIN"] = GTIN
        rows["Items"][1]["HIBC"] = "A123BJC5D6E71"
        rows["Lots"] = [{"quantity": 5, "place": "A-01", **lot}]

    site, problems = read_changed(folder, change)
    assert site is not None
    return [(one.item, one.lot, one.expiry) for one in site.lots], problems


@pytest.mark.parametrize(
    ("row", "is_read_as"),
    [
        ({"item": LABEL}, OF_GTIN),
        ({"lot": LABEL}, OF_GTIN),
        ({"item": "100001", "lot": LABEL}, OF_GTIN),
        ({"item": LABEL, "lot": "ABC123", "expiry": date(2027, 6, 30)}, OF_GTIN),
        ({"item": f"(01){GTIN}(17)270600(10)ABC123"}, OF_GTIN),
        ({"item": f"01{GTIN}", "lot": "17270600" + "10ABC123"}, OF_GTIN),  # two symbols on one package
        ({"item": GTIN, "lot": "ABC123", "expiry": "2027-06"}, OF_GTIN),
        ({"item": BOTH}, OF_HIBC),
        ({"item": "+A123BJC5D6E71G", "lot": "+$$52001510X3GD"}, OF_HIBC),
        ({"item": "100002", "lot": "+$$52001510X3GD"}, OF_HIBC),
    ],
)
def test_that_a_label_fills_in_item_lot_and_expiry(
    tmp_path: Path, row: dict[str, Any], is_read_as: tuple[str, str, object]
) -> None:
    lots, problems = read(tmp_path, **row)
    assert problems == []
    assert lots == [is_read_as]


@pytest.mark.parametrize(
    ("row", "kind", "cell"),
    [
        ({"item": LABEL.replace(GTIN, f"{GTIN[:-1]}2")}, "unreadable label", "item"),
        ({"item": "+A123BJC5D6E71H", "lot": "L1"}, "unreadable label", "item"),
        ({"item": "100001", "lot": f"(01){GTIN}(17)271300(10)ABC123"}, "unreadable label", "lot"),
        ({"item": LABEL, "lot": "ABC124"}, "label and cell differ", "lot"),
        ({"item": LABEL, "expiry": date(2027, 7, 31)}, "label and cell differ", "expiry"),
        ({"item": LABEL, "lot": f"(01){GTIN}(10)Z9"}, "unreadable label", "lot"),
        ({"item": "100002", "lot": LABEL}, "label of another item", "item"),
        ({"item": "100002", "lot": "+$$73C001X3"}, "label of another item", "item"),  # it links to X, not to G
        ({"item": "+$$52001510X3GD"}, "unreadable label", "item"),  # names no item
        ({"item": "100001", "lot": f"(01){GTIN}"}, "unreadable label", "lot"),  # names no lot
        ({"item": f"(01){GTIN}"}, "empty cell", "lot"),
        ({"item": "(01)09506000134352(10)A1"}, "unknown gtin", "item"),
        ({"item": "(01)22345678901238(10)A1"}, "other package", "item"),  # a box of them
        ({"item": "+/EH701234567"}, "private text", "item"),
    ],
)
def test_that_what_cannot_be_is_one_problem_with_its_cell(
    tmp_path: Path, row: dict[str, Any], kind: str, cell: str
) -> None:
    lots, problems = read(tmp_path, **row)
    assert lots == []
    assert [(one.kind, one.where.column) for one in problems if one.kind != "empty cell" or kind == "empty cell"] == [
        (kind, cell)
    ]
    assert all(GTIN not in one.message for one in problems)


def test_that_a_row_that_names_its_item_by_a_label_is_counted_down_where_it_stands(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Items"][0]["GTIN"] = GTIN
        rows["Lots"] = [{"item": LABEL, "quantity": 5, "place": "A-01"}]

    site, _ = read_changed(tmp_path, change)
    assert site is not None
    where = site.lots[0].where
    edits = RowEdits(tmp_path, read_table_files(tmp_path))
    edits.sheet(BY_NAME["Lots"], where).write(where, {"quantity": 4})
    [(name, data)] = edits.contents().items()
    (tmp_path / name).write_bytes(data)
    after, problems = read_site(tmp_path, now=NOW)
    assert after is not None
    assert [(one.item, one.lot, one.quantity) for one in after.lots] == [("100001", "ABC123", 4)]
    assert not must_be_fixed(problems)


def test_that_a_lot_that_only_has_the_length_of_a_label_stays_a_lot(tmp_path: Path) -> None:
    lots, problems = read(tmp_path, item="100001", lot="20261112130415")
    assert (lots, problems) == ([("100001", "20261112130415", None)], [])


def test_that_cards_and_packs_name_items_by_their_labels_too(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Items"][1]["GTIN"] = f"(01){GTIN}(17)270600(10)ABC123"  # scanned whole into the catalogue
        rows["Items"][2]["HIBC"] = BOTH
        rows["Cards"][4]["thing"] = LABEL
        rows["Packs"][0]["item"] = "+A123BJC5D6E71G"

    site, problems = read_changed(tmp_path, change)
    assert problems == []
    assert site is not None
    assert site.items["100002"].gtin == GTIN
    assert [line.thing for line in site.card_lines if line.procedure == "HERNIA"] == ["T-BASIC", "100002"]
    assert [line.item for line in site.packs["PK-1"].lines] == ["100003"]


def test_that_a_label_with_a_wrong_check_digit_in_the_catalogue_is_named(tmp_path: Path) -> None:
    site, problems = read_changed(tmp_path, lambda rows: rows["Items"][0].update(GTIN=f"(01){GTIN[:-1]}2(10)A1"))
    assert [(one.kind, one.where.column) for one in problems] == [("unreadable label", "GTIN")]
    assert site is not None


def test_that_a_number_that_happens_to_be_a_gtin_is_an_unknown_id(tmp_path: Path) -> None:
    """02345673 passes the check of EAN-8; as a slip in an item's number it is no label."""
    _, problems = read(tmp_path, item="02345673", lot="L1")
    assert [one.kind for one in problems] == ["unknown id"]
