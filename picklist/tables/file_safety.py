"""What stands between the program and a file that is no workbook, locked, cut short or a trap."""

from __future__ import annotations

import struct
import zipfile
import zlib
from dataclasses import dataclass
from pathlib import Path
from xml.parsers import expat

from picklist.tables.cells import Fault

OLE_MAGIC = bytes.fromhex("d0cf11e0a1b11ae1")
ZIP_MAGIC = b"PK\x03\x04"
ENCRYPTED_PART = "EncryptedPackage".encode("utf-16-le")
SAVE_AGAIN = "a workbook saved as .xlsx"
CHUNK = 1 << 20
DAMAGED = Fault(
    kind="truncated",
    message="the workbook is damaged or was cut short",
    expected="a whole copy of the workbook; save or send it again",
)
SHARED_TEXTS = "sharedstrings.xml"
# What unpacking a damaged file raises: of names and encodings that there are not, too.
BROKEN = (
    zipfile.BadZipFile,
    zlib.error,
    OSError,
    EOFError,
    struct.error,
    NotImplementedError,
    expat.ExpatError,
    UnicodeError,
    LookupError,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """How large a workbook may be when unpacked.

    A region's sheet of 250,000 rows unpacks to about 100 MB at a ratio of about 10.
    """

    unpacked_bytes: int = 800 << 20
    ratio: int = 250
    ratio_from_bytes: int = 16 << 20
    parts: int = 5000


LIMITS = Limits()


def workbook_fault(path: Path, limits: Limits = LIMITS) -> Fault | None:
    """Why a file cannot be opened as a workbook, or None."""
    try:
        with path.open("rb") as file:
            head = file.read(8)
    except OSError as error:
        return Fault(kind="cannot open", message=f"the file cannot be opened ({error.strerror})", expected=SAVE_AGAIN)
    if not head:
        return Fault(kind="empty file", message="the file is empty", expected=SAVE_AGAIN)
    if head == OLE_MAGIC:
        return _ole_fault(path)
    if not head.startswith(ZIP_MAGIC):
        return _not_a_workbook(head)
    return _zip_fault(path, limits)


def is_packed(path: Path) -> bool:
    """Whether a file begins like an .xlsx workbook, whatever its name ends in."""
    try:
        with path.open("rb") as file:
            return file.read(len(ZIP_MAGIC)) == ZIP_MAGIC
    except OSError:
        return False


def _ole_fault(path: Path) -> Fault:
    if ENCRYPTED_PART in path.read_bytes():
        return Fault(
            kind="encrypted",
            message="the workbook is locked with a password",
            expected="a workbook saved without a password",
        )
    return Fault(kind="old format", message="this is a workbook of the old format .xls", expected=SAVE_AGAIN)


def _not_a_workbook(head: bytes) -> Fault:
    what = "a web page" if head.lstrip().lower().startswith((b"<html", b"<!doc", b"<tabl")) else "something else"
    return Fault(
        kind="not a workbook",
        message=f"this is not a workbook but {what} whose name ends like one",
        expected=SAVE_AGAIN,
    )


def _zip_fault(path: Path, limits: Limits) -> Fault | None:
    try:
        with zipfile.ZipFile(path) as archive:
            names = archive.namelist()
            if len(names) > limits.parts:
                return _swells(f"it has {len(names)} parts")
            if any(entry.flag_bits & 1 for entry in archive.infolist()):
                return Fault(
                    kind="encrypted", message="the file is locked with a password", expected="one without a password"
                )
            fault = _size_fault(archive, limits) or _parts_fault(archive)
    except BROKEN:
        return DAMAGED
    if fault:
        return fault
    if "xl/workbook.bin" in names:
        return Fault(kind="old format", message="this is a binary workbook (.xlsb)", expected=SAVE_AGAIN)
    if "[Content_Types].xml" not in names or not any(name.startswith("xl/") for name in names):
        return Fault(kind="not a workbook", message="this is a zip archive, not an .xlsx workbook", expected=SAVE_AGAIN)
    return None


def _parts_fault(archive: zipfile.ZipFile) -> Fault | None:
    """Parts that the fast reader must not see: two of one name, or more shared texts announced than there is room for.

    It makes room for as many texts as are announced, and ends the whole program when there is none.
    """
    names = [name.casefold() for name in archive.namelist()]
    if len(set(names)) < len(names):
        return DAMAGED
    texts = (entry for entry in archive.infolist() if entry.filename.casefold().endswith(SHARED_TEXTS))
    return DAMAGED if any(_announced_texts(archive, entry) > entry.file_size for entry in texts) else None


def _announced_texts(archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> int:
    """The greatest number among the attributes of a part's first element, of a long one its first digits."""
    found: list[int] = []
    parser = expat.ParserCreate()

    def start(_name: str, attributes: dict[str, str]) -> None:
        found.append(
            max((int(text.strip()[:18]) for text in attributes.values() if text.strip().isdecimal()), default=0)
        )
        parser.StartElementHandler = None

    parser.StartElementHandler = start
    with archive.open(entry) as part:
        while not found and (data := part.read(CHUNK >> 8)):
            parser.Parse(data)
    return found[0] if found else 0


def _size_fault(archive: zipfile.ZipFile, limits: Limits) -> Fault | None:
    """Why a workbook is too large; each part is unpacked, which fails where more comes out of it than it says."""
    total = 0
    for entry in archive.infolist():
        size, packed = entry.file_size, max(entry.compress_size, 1)
        total += size
        if total > limits.unpacked_bytes:
            return _swells("more than the limit comes out of it")
        if size > limits.ratio_from_bytes and size > limits.ratio * packed:
            return _swells(f"one part grows {size // packed} times")
        if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise zipfile.BadZipFile(entry.filename)
        with archive.open(entry) as part:
            while part.read(CHUNK):
                pass
    return None


def _swells(how: str) -> Fault:
    return Fault(
        kind="swells",
        message=f"the workbook is suspiciously large when unpacked ({how})",
        expected="a workbook of ordinary size",
    )
