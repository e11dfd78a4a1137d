"""What earlier versions kept in a folder of the site, ``card changes``: brought into the state file once.

The folder held the log with requests and rejections (``changes.sqlite``), the proposals that wait
(``proposals/*.json``) and a mark of each row of the workbooks that were sent (``sent/*.txt``). What is
brought in is kept as it was with the site's former files, and the folder goes.
"""

from __future__ import annotations

import io
import json
import sqlite3
import zipfile
from collections.abc import Callable, Iterable
from contextlib import closing, suppress
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from typing import Any, TypeVar

from picklist.problems import Problem, Where, to_fix
from picklist.store.state import StateFile
from picklist.store.typed_records import Records, record_of
from picklist.tables.files import FileWrite, digest_of, keep_former
from picklist.upkeep.change_log import (
    ANSWERS,
    CHANGES,
    REJECTIONS,
    REQUESTS,
    WRITES,
    CardWrite,
    LogEntry,
    OfficeAnswer,
    Rejection,
    Request,
    RequestAnswer,
    Stood,
    record_requests,
)
from picklist.upkeep.owners import Owner
from picklist.upkeep.proposals import CardChange, CardRequest, Proposal, keep_proposal
from picklist.upkeep.slots import RowValue, same_want, slot_from, want_from

FOLDER, LOG, LOCK = "card changes", "changes.sqlite", "lock.sqlite"
REST = 9  # columns of a change after its slot; the oldest logs have two fewer
R = TypeVar("R")


def has_card_folder(folder: Path) -> bool:
    """Whether an earlier version left something to bring in."""
    return bool(_files(folder / FOLDER))


def bring_in_folder(state: StateFile, folder: Path) -> tuple[Problem, ...]:
    """Bring in what is in the folder, all or nothing, and say what could not be read; it is kept too.

    The caller holds the tables. Raises StateError and OSError, and sqlite3.Error for a damaged log; then
    everything lies where it lay.
    """
    place = folder / FOLDER
    if not _files(place):
        return ()
    said: list[Problem] = []
    with state.writing() as db:
        known = {row["digest"] for row in db.execute("SELECT digest FROM card_file")}
        if (place / LOG).is_file() and _digest(place / LOG) not in known:
            _bring_in_log(place / LOG, db)
        data = {path.relative_to(place).as_posix(): path.read_bytes() for path in _files(place)}
        new = {name: content for name, content in data.items() if digest_of(content) not in known}
        for name, content in new.items():
            if name != LOG and not _bring_in(db, name, content, _written(place / name)):
                said.append(_not_read(f"{FOLDER}/{name}"))
        if new:
            keep_former(folder, f"{FOLDER}.zip", _packed(data), max(_written(place / name) for name in data))
        rows = [(digest_of(content), name) for name, content in data.items()]
        db.executemany("INSERT OR IGNORE INTO card_file VALUES (?, ?)", rows)
    _remove(place, data)
    return tuple(said)


def _bring_in_log(path: Path, db: sqlite3.Connection) -> None:
    with closing(sqlite3.connect(path, timeout=60)) as log:
        try:
            _FormerLog(log=log, db=db).bring_in()
        except (KeyError, TypeError, ValueError) as error:
            raise sqlite3.DataError(f"{path.name} is damaged") from error


def _files(place: Path) -> list[Path]:
    return sorted(path for pattern in (LOG, "proposals/*.json", "sent/*.txt") for path in place.glob(pattern))


def _digest(path: Path) -> str:
    return digest_of(path.read_bytes())


def _written(path: Path) -> datetime:
    """When a file was last written, in this machine's zone."""
    return datetime.fromtimestamp(path.stat().st_mtime).astimezone()


def _packed(data: dict[str, bytes]) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in data.items():
            archive.writestr(zipfile.ZipInfo(name), content)
    return packed.getvalue()


def _remove(place: Path, data: dict[str, bytes]) -> None:
    """Take away what was brought in, unless somebody wrote it anew; what else is there stays."""
    with suppress(OSError):  # in a folder that may not be written it is known by its mark
        for name, content in data.items():
            if digest_of(content) == _digest(place / name):
                (place / name).unlink()
        (place / LOCK).unlink(missing_ok=True)
        for one in (place / "proposals", place / "sent", place):
            if one.is_dir():
                one.rmdir()


def _not_read(name: str) -> Problem:
    message = "an earlier version wrote this and it cannot be read; it is kept with the site's former files"
    return to_fix("former-cards", Where(file=name), message, expected="the office's workbook, sent once more")


def _bring_in(db: sqlite3.Connection, name: str, content: bytes, at: datetime) -> bool:
    """Bring in a proposal or the marks of a workbook; whether it could be read."""
    from picklist.upkeep.stamps import keep_stamp, read_mark

    try:
        text = content.decode("utf-8")
        if name.startswith("sent/"):
            marks = [mark for line in text.splitlines() if (mark := read_mark(line))]
            if marks:
                keep_stamp(db, replace(marks[0][0], rows=tuple(row for _, row in marks)))
            return bool(marks)
        proposal = _proposal(json.loads(text))
    except (KeyError, TypeError, AttributeError, ValueError):
        return False
    record_requests(db, proposal, at)  # the oldest proposals hold the requests themselves
    if proposal.changes:
        keep_proposal(db, replace(proposal, requests=()))
    return True


def _proposal(data: dict[str, Any]) -> Proposal:
    changes = [one | {"slot": slot_from(one["slot"]), "begins": one.get("from")} for one in data["changes"]]
    return record_of(Proposal, data | {"changes": changes})


@dataclass(frozen=True, slots=True, kw_only=True)
class _FormerLog:
    """The log of an earlier version, and the state that it goes into."""

    log: sqlite3.Connection
    db: sqlite3.Connection

    def bring_in(self) -> None:
        """Add what the state does not hold yet; numbers stay as they are where the state has no log of its own."""
        self._add(CHANGES, [(row[0], _entry(row)) for row in self._rows("changes")], _with_undone)
        asked = [(row[0], _request(row)) for row in self._rows("requests")]
        numbers = self._add(REQUESTS, asked)
        answers = [
            (
                row[0],
                RequestAnswer(
                    request=numbers[row[1]],
                    answer=OfficeAnswer(at=datetime.fromisoformat(row[2]), by=row[3], text=row[4]),
                ),
            )
            for row in self._rows("answers")
        ]
        self._add(ANSWERS, answers)
        self._add(REJECTIONS, [(row[0], _rejection(row)) for row in self._rows("rejected")])
        finished = {write for write, _ in self._rows("finished")}
        writes = [
            (number, _write(files, told)) for number, files, told in self._rows("writes") if number not in finished
        ]
        self._add(WRITES, writes)

    def _rows(self, table: str) -> list[tuple[Any, ...]]:
        """The rows of a table, by number; an old log may lack some."""
        there = self.log.execute("SELECT 1 FROM sqlite_master WHERE name = ?", (table,)).fetchone()
        return self.log.execute(f"SELECT * FROM {table} ORDER BY 1").fetchall() if there else []

    def _add(
        self,
        records: Records[R],
        former: Iterable[tuple[int, R]],
        renumbered: Callable[[R, dict[int, int]], R] = lambda record, _: record,
    ) -> dict[int, int]:
        """Add records that are not there yet, as often as they are in the former log; new numbers by the former."""
        there: list[tuple[int, R]] = [(row["number"], record) for row, record in records.rows(self.db)]
        numbers: dict[int, int] = {}
        for number, record in former:
            wanted = renumbered(record, numbers)
            same = next((one for one in there if one[1] == wanted), None)
            if same:
                there.remove(same)
            numbers[number] = same[0] if same else records.keep(self.db, wanted)
        return numbers


def _with_undone(entry: LogEntry, numbers: dict[int, int]) -> LogEntry:
    return replace(entry, undoes=numbers[entry.undoes]) if entry.undoes else entry


def _write(files: str, told: str) -> CardWrite:
    return CardWrite(
        files=tuple(FileWrite(file=f, former=o, new=n, part=p) for f, o, n, p in json.loads(files)),
        entries=tuple(_entry((0, *row)) for row in json.loads(told)),
    )


def _entry(row: tuple[Any, ...]) -> LogEntry:
    number, at, by, reason, surgeon, service, procedure, slot, *rest = row
    before, after, beneath, effective, source, undoes, lines, until, stood = [*rest, None, None][:REST]
    wants = [want_from(json.loads(text)) if text else None for text in (before, after, beneath)]
    change = CardChange(
        number=number,
        procedure=procedure,
        slot=slot_from(json.loads(slot)),
        before=wants[0],
        after=wants[1],
        beneath=wants[2],
    )
    return LogEntry(
        at=datetime.fromisoformat(at),
        by=by,
        reason=reason,
        owner=Owner(surgeon=surgeon, service=service),
        change=change,
        effective=date.fromisoformat(effective),
        source=source,
        undoes=undoes,
        lines=tuple(json.loads(lines)),
        until=_day(until),
        stood=_stood(stood, wants[0], wants[2]),
    )


def _stood(text: str | None, before: RowValue | None, beneath: RowValue | None) -> Stood:
    """What was noted; the oldest logs note nothing, but what a line said and what lay beneath it is there."""
    if text is None:
        return Stood(own=not same_want(before, beneath))
    begins, until, own, logged = json.loads(text)
    return Stood(begins=_day(begins), until=_day(until), own=bool(own), logged=bool(logged))


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def _request(row: tuple[Any, ...]) -> Request:
    _, at, surgeon, service, procedure, text, opened, hold, why, file, version = row
    return Request(
        at=datetime.fromisoformat(at),
        owner=Owner(surgeon=surgeon, service=service),
        asked=CardRequest(procedure=procedure, text=text, open=opened, hold=hold, why=why),
        file=file,
        version=version,
    )


def _rejection(row: tuple[Any, ...]) -> Rejection:
    _, at, by, reason, proposal, surgeon, service, file, changes = row
    return Rejection(
        at=datetime.fromisoformat(at),
        by=by,
        reason=reason,
        proposal=proposal,
        owner=Owner(surgeon=surgeon, service=service),
        file=file,
        changes=tuple((card, text) for card, text in json.loads(changes)),
    )
