"""A folder is written as a whole or left as it was, and nothing that others put into it is lost.

Everything goes into a new folder beside the target. Only when it is complete and on the
disk do the two change places by renaming. Between the two renames the target is missing
for a moment: whoever looks next (``recover``) finds the former folder under its resting
name and puts back what belongs there.

Each folder lists what was written into it. A file that is not on the list is somebody
else's and goes along into the new folder; one that was changed since is put aside.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path

from picklist.tables.files import DISK_FAULTS, check_folder, folder_to_disk, real_path

MARKER = ".picklist"
MARKER_TEXT = "picklist writes this folder. Other files in it stay; its own files that were edited are put aside.\n"
LIST = ".written.json"
ASIDE = "put aside"  # the folder for it where nothing else is said
PAPERS = "papers"

Keep = Callable[[str, Path], Path]  # puts a file (its name below the folder, where it is) aside, and says where


class NotOurFolderError(Exception):
    """The target exists and was not written by this program, so it is not replaced."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PutAside:
    """A file that was in the folder and is kept elsewhere; ``ours``: written by picklist and changed since."""

    file: str
    to: Path
    ours: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """What a folder lists: its kind and site, the mark of each file written, and of what was put aside for it."""

    kind: str = PAPERS
    owner: str = ""
    files: Mapping[str, str] = field(default_factory=dict)
    aside: Mapping[str, str] = field(default_factory=dict)


def is_ours(folder: Path) -> bool:
    """Whether a folder was written by ``write_folder``."""
    return (folder / MARKER).is_file()


class WrittenFiles:
    """The files of a folder as its list says that they were written; the list is read once."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._marks = _read_list(folder).files

    def content(self, file: str) -> bytes | None:
        """A file (its name below the folder) that is there and as it was written; None for any other."""
        path = self._folder / file
        if file not in self._marks or not path.is_file() or path.is_symlink():
            return None
        content = path.read_bytes()
        return content if hashlib.sha256(content).hexdigest() == self._marks[file] else None


def listed_files(folder: Path) -> frozenset[str] | None:
    """The files that were written into a folder; None when it has no list of them."""
    return frozenset(_read_list(folder).files) if (folder / LIST).is_file() else None


def changed_since(folder: Path, file: str) -> str:
    """The mark of a file of the folder that somebody changed since it was written; empty when nobody did."""
    written = _read_list(folder).files.get(file)
    path = folder / file
    if written is None or not path.is_file() or path.is_symlink():
        return ""
    now = _digest(path)
    return "" if now == written else now


def write_folder(
    target: Path, make: Callable[[Path], None], *, keep: Keep | None = None, kind: str = PAPERS, owner: str = ""
) -> tuple[PutAside, ...]:
    """Let ``make`` fill a new folder, then put it in the place of ``target``; what had to be put aside.

    If ``make`` raises, or the process dies at any point, the former folder stays whole (after
    a death between the two renames: once ``recover`` has run, which this also does first).
    Other people's files stay in the folder. What was changed of ours, and what has the name of
    a new file, goes to where ``keep`` puts it, without it to a folder inside.
    A target that is a link stays one; what it leads to is replaced. ``owner`` is the mark of the site.
    Raises NotOurFolderError when the target is a file, or a folder with content of others, of another ``kind``
    or of another owner; and OSError.
    """
    target = real_path(target).absolute()
    recover(target)
    check_target(target, kind, owner)
    target.parent.mkdir(parents=True, exist_ok=True)
    fresh, resting = _fresh(target), _resting(target)
    fresh.mkdir()
    try:
        make(fresh)
        written = {file: _digest(fresh / file) for file in _files(fresh)}
        (fresh / MARKER).write_text(MARKER_TEXT, encoding="utf-8")
        aside = _carry_over(target, fresh, keep, frozenset(written)) if target.exists() else ()
        marks = {one.file: _digest(target / one.file) for one in aside}
        _write_list(fresh, Contents(kind=kind, owner=owner, files=written, aside=marks))
        _to_disk(fresh)
    except BaseException as error:
        shutil.rmtree(fresh, ignore_errors=True)
        if isinstance(error, OSError) and error.errno:
            error.filename = _as_meant(error.filename, fresh, target)
        raise
    try:
        if target.exists():
            target.rename(resting)
        fresh.rename(target)
    except BaseException:  # stopped by hand, or the target is held by another program
        recover(target)
        raise
    folder_to_disk(target.parent)
    moved = (replace(one, to=target / one.to.relative_to(fresh)) if fresh in one.to.parents else one for one in aside)
    return (*moved, *_clear(resting, target, keep))


def _as_meant(file: object, fresh: Path, target: Path) -> object:
    """The file that could not be written, by the place it was meant for; the folder where nobody says which it was."""
    if not isinstance(file, str | Path):
        return str(target)
    path = Path(file)
    return str(target / path.relative_to(fresh)) if fresh in path.parents else file


def check_target(target: Path, kind: str = PAPERS, owner: str = "") -> None:
    """Raise NotOurFolderError as ``write_folder`` would, and OSError when nothing can be written there."""
    real = real_path(target).absolute()
    refuse_foreign(real, kind, owner)
    check_folder(real.parent)


def is_cut_short(target: Path) -> bool:
    """Whether a run was killed between the two renames, so that the former folder lies under its resting name."""
    real = real_path(target).absolute()
    return _resting(real).exists() and not real.exists()


def recover(target: Path) -> None:
    """Clear what a killed run left beside the target, and put the former folder back if it is missing."""
    target = real_path(target).absolute()
    resting = _resting(target)
    if resting.exists():
        if target.exists():
            _clear(resting, target, None)
        else:
            resting.rename(target)
    shutil.rmtree(_fresh(target), ignore_errors=True)


def _clear(resting: Path, target: Path, keep: Keep | None) -> tuple[PutAside, ...]:
    """Remove the former folder, once what was saved into it in the last moment is in the new one or aside."""
    if not resting.exists():
        return ()
    aside = _carry_over(resting, target, keep, frozenset(_read_list(target).files)) if is_ours(target) else ()
    shutil.rmtree(resting, ignore_errors=True)
    return aside


def _carry_over(former: Path, new: Path, keep: Keep | None, written: frozenset[str]) -> tuple[PutAside, ...]:
    """Bring into a new folder what others put into the former one, and put aside what has no place there."""
    listed, known = _read_list(former), _read_list(new)
    is_listed = (former / LIST).is_file()
    aside = []
    for file in _files(former):
        path, place = former / file, new / file
        mark = _digest(path)
        if file in (MARKER, LIST) or listed.files.get(file) == mark or known.aside.get(file) == mark:
            continue
        ours = file in listed.files or not is_listed
        if not ours and _is_there(place) and _digest(place) == mark:
            continue
        if not ours and file not in written and not _is_there(place):
            _copy(path, place)
            continue
        to = keep(file, path) if keep else _keep_inside(new, file, path, mark)
        aside.append(PutAside(file=file, to=to, ours=ours))
    return tuple(aside)


def _keep_inside(folder: Path, file: str, path: Path, mark: str) -> Path:
    """A copy in the folder's own place for what was put aside, which stays there like any other file of others."""
    flat = file.replace("/", " ")
    to = folder / ASIDE / flat
    number = 1
    while _is_there(to) and _digest(to) != mark:
        number += 1
        to = folder / ASIDE / f"{Path(flat).stem} ({number}){Path(flat).suffix}"
    if not _is_there(to):
        _copy(path, to)
    return to


def _copy(path: Path, place: Path) -> None:
    place.parent.mkdir(parents=True, exist_ok=True)
    if path.is_symlink():
        place.symlink_to(path.readlink())
        return
    half = place.with_name(f".{place.name}.part")
    shutil.copy2(path, half)
    half.replace(place)


def _is_there(path: Path) -> bool:
    return path.is_symlink() or path.exists()


def _files(folder: Path) -> Iterator[str]:
    """Every file and link below a folder, by its name with ``/``; links are not followed."""
    for place, folders, files in os.walk(folder):
        links = [name for name in folders if (Path(place) / name).is_symlink()]
        for name in sorted((*files, *links)):
            yield (Path(place) / name).relative_to(folder).as_posix()


def _digest(path: Path) -> str:
    """A mark of a file's contents, or of where a link leads."""
    if path.is_symlink():
        return f"-> {path.readlink()}"
    if not path.is_file():
        return "no file"
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _read_list(folder: Path) -> Contents:
    """What a folder lists; nothing when it has no list, or none that can be read."""
    try:
        data = json.loads((folder / LIST).read_text(encoding="utf-8"))
        return Contents(
            kind=str(data["kind"]),
            owner=str(data.get("owner", "")),
            files=dict(data["files"]),
            aside=dict(data["aside"]),
        )
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return Contents()


def _write_list(folder: Path, contents: Contents) -> None:
    (folder / LIST).write_text(json.dumps(asdict(contents), indent=0, sort_keys=True), encoding="utf-8")


def _fresh(target: Path) -> Path:
    return target.with_name(f".{target.name}.new")


def _resting(target: Path) -> Path:
    return target.with_name(f".{target.name}.former")


def refuse_foreign(target: Path, kind: str, owner: str) -> None:
    """Raise NotOurFolderError for a folder that this site did not write, or not of this kind."""
    if target.is_dir():
        if not is_ours(target) and any(target.iterdir()):
            raise NotOurFolderError(f"{target} holds files that picklist did not write; choose an empty or new folder")
        if is_ours(target) and _read_list(target).kind != kind:
            raise NotOurFolderError(f"{target} holds {_read_list(target).kind} of picklist; choose another folder")
        if is_ours(target) and _read_list(target).owner not in ("", owner):
            raise NotOurFolderError(
                f"{target} holds the {kind} of another site, or of a state file that is no longer beside this one; "
                "choose another folder, or move that one away"
            )
    elif target.exists():
        raise NotOurFolderError(f"{target} is a file, not a folder")


def _to_disk(folder: Path) -> None:
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            with path.open("rb") as file:
                try:
                    os.fsync(file.fileno())
                except OSError as refused:  # some systems cannot do it for a file that is only read
                    if refused.errno in DISK_FAULTS:
                        raise
    folder_to_disk(folder)
