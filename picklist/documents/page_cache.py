"""Which pages of an earlier run still hold, and under which names lists lie."""

from __future__ import annotations

import json
import re
import unicodedata
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from picklist.documents.pages import Sheet, sheet_digest
from picklist.documents.whole_folder import WrittenFiles
from picklist.tables.files import is_device

LEDGER = ".pages.json"
LONGEST_NAME = 200  # bytes; most disks take 255 with the ending
CHANGES = "changes"  # the folder of all sheets of changes of a day


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownSheet:
    """A sheet, and how its pages may be known again; ``case`` and ``revision`` of a pick list.

    ``rest`` are the further parts of its file, each set by itself. ``kept``: its pages, where it is a list that
    stays as an earlier run left it, so that what is on it need not be known.
    """

    sheet: Sheet
    rest: tuple[Sheet, ...] = ()
    case: str = ""
    revision: int = 0
    digest: str = ""
    kept: bytes | None = None

    @property
    def parts(self) -> tuple[Sheet, ...]:
        """All that is set for its file."""
        return (self.sheet, *self.rest)

    @property
    def digests(self) -> tuple[str, ...]:
        """The digest of each of them."""
        return tuple(self.digest.split())


def paper_of(sheet: Sheet, case: str = "", revision: int = 0, rest: tuple[Sheet, ...] = ()) -> KnownSheet:
    """A sheet with the digest of all that decides how its pages come out."""
    digest = " ".join(sheet_digest(one) for one in (sheet, *rest))
    return KnownSheet(sheet=sheet, rest=rest, case=case, revision=revision, digest=digest)


def ledger_text(papers: list[KnownSheet]) -> str:
    """What the next run must know of these pages."""
    return json.dumps({paper.sheet.file: [paper.digest, paper.case, paper.revision] for paper in papers})


def read_ledger(target: Path) -> dict[str, tuple[str, str, int]]:
    """By file of an earlier run: the digest of its sheet, its case and its revision; nothing when it cannot be read.

    Without it every page is drawn anew, which is only slower.
    """
    try:
        data = json.loads((target / LEDGER).read_text(encoding="utf-8"))
        return {file: (str(digest), str(case), int(revision)) for file, (digest, case, revision) in data.items()}
    except (OSError, ValueError, TypeError, AttributeError, RecursionError):
        return {}


class FormerPages:
    """The pages that are in the target from an earlier run."""

    def __init__(self, target: Path) -> None:
        self._ledger = read_ledger(target)
        self._lists = {(case, revision): file for file, (_, case, revision) in self._ledger.items() if case}
        self._files = WrittenFiles(target)

    def pages(self, paper: KnownSheet, revision: int) -> bytes | None:
        """The former PDF of a paper, if it is the same or a list of the same earlier revision."""
        if paper.kept is not None:
            return paper.kept
        for file, (digest, case, of_revision) in self._ledger.items():
            same = digest == paper.digest
            kept_list = paper.case and case == paper.case and of_revision == paper.revision < revision
            if (same or kept_list) and (content := self._files.content(file)) is not None:
                return content
        return None

    def kept_list(self, case: str, revision: int) -> tuple[str, bytes] | None:
        """The digest and the pages of a case's list of an earlier revision; None where it must be set anew."""
        file = self._lists.get((case, revision), "")
        content = self._files.content(file)
        return None if content is None else (self._ledger[file][0], content)

    def kept_html(self, paper: KnownSheet, revision: int) -> bytes | None:
        """The HTML beside the former PDF of a list of an earlier revision: the two go on together."""
        file = self._lists.get((paper.case, paper.revision), "") if paper.revision < revision else ""
        is_there = paper.kept is not None or self._files.content(file)
        return self._files.content(html_file(file)) if file and is_there else None


def html_file(list_file: str) -> str:
    """Where the HTML of a pick list lies, whose PDF is ``list_file``."""
    return f"html/{Path(list_file).stem}.html"


def changes_file(day: date, revision: int) -> str:
    """Where the sheet of changes of a revision stays while later ones are built."""
    return f"{CHANGES}/{day.isoformat()} revision {revision}.pdf"


def earlier_changes(target: Path, day: date, revision: int) -> dict[str, bytes]:
    """The sheets of changes of a day's earlier revisions, as they are in the target, by file."""
    files, written = (changes_file(day, earlier) for earlier in range(1, revision)), WrittenFiles(target)
    return {file: content for file in files if (content := written.content(file)) is not None}


def free_name(wanted: str, taken: set[str]) -> str:
    """A file name that every system takes, and that no other list has."""
    name = re.sub(r"[^\w .()+-]", "", unicodedata.normalize("NFC", wanted)).strip(" .")[:80]
    name = name.encode()[:LONGEST_NAME].decode(errors="ignore").strip(" .") or "list"
    if is_device(name):
        name = f"list {name}"
    number, free = 1, name
    while free.casefold() in taken:
        number += 1
        free = f"{name} ({number})"
    taken.add(free.casefold())
    return free
