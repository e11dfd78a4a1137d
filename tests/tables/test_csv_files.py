"""CSV files as spreadsheet programs, exports and editors write them."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from picklist.problems import Where
from picklist.tables.cells import CUT_OFF
from picklist.tables.csv_files import edit_csv, read_csv_file
from picklist.tables.drafts import Ledger
from picklist.tables.files import BusyError
from picklist.tables.folder import read_folder, read_table_files
from picklist.tables.row_edits import RowEdits
from picklist.tables.schema import BY_NAME

PLAIN = [["case", "room", "notes"], ["C-1", "OR 1", "Grün; naß"], ["C-2", "OR 2", 'a "big" one, two']]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("line_end", ["\r\n", "\n"])
def test_encodings_and_separators(tmp_path: Path, encoding: str, delimiter: str, line_end: str) -> None:
    text = line_end.join(
        delimiter.join('"' + cell.replace('"', '""') + '"' if n else cell for cell in row)
        for n, row in enumerate(PLAIN)
    )
    path = tmp_path / "Schedule.csv"
    path.write_bytes(text.encode(encoding))
    grid, fault = read_csv_file(path)
    assert fault is None
    assert grid is not None
    assert grid.rows == PLAIN
    assert bool(grid.notes) is (encoding == "cp1252")


@pytest.mark.parametrize(
    ("text", "cut"),
    [
        ("item,lot,quantity\n100001,L1,20\n100002,L2", True),
        ("item,lot,quantity\n100001,L1,20\n100002,L2\n", False),  # a row that leaves its last cell out
        ("item,lot,quantity\n100001,L1\n100002", False),  # as others of this file are short too
        ("item,lot,quantity\n100001,L1,20\n100002,L2,4", False),
    ],
)
def test_a_row_within_which_the_file_ends_says_nothing(tmp_path: Path, text: str, cut: bool) -> None:
    path = tmp_path / "Lots.csv"
    path.write_text(text)
    grid, _ = read_csv_file(path)
    assert grid is not None
    assert (grid.rows[-1] == [CUT_OFF] * 3) is cut


def test_a_line_that_names_the_separator(tmp_path: Path) -> None:
    path = tmp_path / "Schedule.csv"
    path.write_text("sep=;\ncase;room\nC-1;a,b,c,d\n")
    grid, _ = read_csv_file(path)
    assert grid is not None
    assert grid.rows[1:] == [["case", "room"], ["C-1", "a,b,c,d"]]


STARTS = "06:00; 09:00; 12:00; 15:00; 18:00; 21:00; 23:00"


@pytest.mark.parametrize(
    ("text", "row"),
    [
        (f"station,machines,start times\nwashers,3,{STARTS}\n", ["washers", "3", STARTS]),
        (
            "procedure;name;service\nKNEE;Knee, left, right, both, all, any;Ortho\n",
            ["KNEE", "Knee, left, right, both, all, any", "Ortho"],
        ),
        (f"Our stations; 2026; as agreed; by all\nstation,start times\nwashers,{STARTS}\n", None),
        (f"cart,what was seen\n1,{STARTS}\n2,\n", ["1", STARTS]),
    ],
    ids=["several times in a cell", "commas in a name", "a title above", "headers of a table of somebody's own"],
)
def test_that_the_separator_is_the_one_of_the_header(tmp_path: Path, text: str, row: list[str] | None) -> None:
    path = tmp_path / "Stations.csv"
    path.write_text(text)
    grid, _ = read_csv_file(path)
    assert grid is not None
    assert grid.rows[-1 if row is None else 1] == (row or ["washers", STARTS])


def test_that_a_cell_written_into_a_file_keeps_its_separator() -> None:
    data = f"station,machines,start times\nwashers,3,{STARTS}\n".encode()
    assert edit_csv(data, {(1, 1): 4}) == data.replace(b",3,", b",4,")


def test_line_breaks_inside_quotes(tmp_path: Path) -> None:
    path = tmp_path / "Schedule.csv"
    path.write_text('case,notes\nC-1,"two\nlines"\nC-2,one\n')
    grid, fault = read_csv_file(path)
    assert fault is None
    assert grid is not None
    assert grid.rows == [["case", "notes"], ["C-1", "two\nlines"], ["C-2", "one"]]


@pytest.mark.parametrize(
    ("content", "kind"),
    [
        (b"", "empty file"),
        (b" \r\n", "empty file"),
        (b"PK\x03\x04....", "not a csv"),
        (bytes.fromhex("d0cf11e0a1b11ae1"), "not a csv"),
        (b"case\x00\x01\x02", "not a csv"),
    ],
)
def test_files_that_are_no_csv(tmp_path: Path, content: bytes, kind: str) -> None:
    path = tmp_path / "Schedule.csv"
    path.write_bytes(content)
    grid, fault = read_csv_file(path)
    assert grid is None
    assert fault is not None
    assert fault.kind == kind


def test_that_a_quote_that_never_closes_is_told(tmp_path: Path) -> None:
    path = tmp_path / "Schedule.csv"
    rows = "\n".join(f"C-{n},OR 1" for n in range(60))
    path.write_text(f'case,room\nC-0,"OR 1\n{rows}\n')
    _, fault = read_csv_file(path)
    assert fault is not None
    assert fault.kind == "open quote"
    assert "row 2" in fault.message


EXPORT = "header,means\nOp Suite,room\nBooking,case\nBegins,start\n"


def exported(tmp_path: Path, cases: bytes) -> list[str]:
    """The kinds of what is said of an export of 60 cases that the table Export knows."""
    (tmp_path / "Export.csv").write_text(EXPORT)
    rest = b"".join(b"C-%d,OR 1,07:30\n" % n for n in range(59))
    (tmp_path / "tomorrow.csv").write_bytes(b"Booking,Op Suite,Begins\n" + cases + rest)
    ledger = Ledger()
    assert "Schedule" in read_folder(tmp_path, ledger).grids
    return [problem.kind for problem in ledger.problems() if problem.where.file == "tomorrow.csv"]


@pytest.mark.parametrize(
    ("first", "said"),
    [
        (b"C-A,OR 1,07:30\n", []),
        (b'"C-A,OR 1,07:30\n', ["open quote"]),
        ("C-A,ÖR 1,07:30\n".encode("cp1252"), ["encoding"]),
    ],
)
def test_that_what_is_wrong_with_a_hospitals_own_export_is_told(tmp_path: Path, first: bytes, said: list[str]) -> None:
    assert exported(tmp_path, first) == said


def test_that_no_column_is_added_where_a_row_has_a_cell_too_many(tmp_path: Path) -> None:
    """It would say there what nobody meant: a note, or the last day of a line."""
    (tmp_path / "Cards.csv").write_text("procedure,kind,thing\nP1,item,I1\nP1,item,I2,2030-01-01\n")
    where = Where(file="Cards.csv", sheet="", row=2)
    sheet = RowEdits(tmp_path, read_table_files(tmp_path)).sheet(BY_NAME["Cards"], where)
    sheet.write(where, {"thing": "I3"})
    with pytest.raises(BusyError, match="'until' cannot be added"):
        sheet.write(where, {"until": "2026-12-01"})


def test_that_no_row_is_added_below_one_within_which_the_file_ends(tmp_path: Path) -> None:
    """It would look like a whole one then."""
    (tmp_path / "Cards.csv").write_text("procedure,kind,thing,open\nP1,item,I1,1\nP1,item,I2")
    where = Where(file="Cards.csv", sheet="", row=2)
    with pytest.raises(BusyError, match=r"Cards\.csv may be cut off within its last row"):
        RowEdits(tmp_path, read_table_files(tmp_path)).sheet(BY_NAME["Cards"], where)


SIGNS = st.sampled_from([",", ";", '"', "\n", "\r", "a", "é", "sep=", "\x00", " ", "case"])


@given(st.one_of(st.binary(max_size=60), st.lists(SIGNS, max_size=30).map(lambda signs: "".join(signs).encode())))
@example(b"sep=")
@example(b"\xef\xbb\xbf")  # a byte order mark and nothing else
@example(b'"')
@example(b'case\n"' + b"x" * 200_000)
def test_that_any_bytes_are_read_or_refused(content: bytes) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "Schedule.csv"
        path.write_bytes(content)
        grid, fault = read_csv_file(path)
    assert grid is not None or fault is not None
