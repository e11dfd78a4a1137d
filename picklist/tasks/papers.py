"""The papers of a build as they are in their folder: which there are, and the plan that they were drawn from."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

from picklist.documents.page_cache import read_ledger
from picklist.documents.plan_json import plan_from_json
from picklist.documents.whole_folder import PAPERS, is_ours, listed_files, refuse_foreign
from picklist.evening.keep_plans import site_mark
from picklist.model.plan import Plan
from picklist.store.state import open_state, state_path
from picklist.store.state_errors import StateError
from picklist.tasks.errors import refusals

READABLE = (".pdf", ".html", ".xlsx")


def default_out(folder: Path) -> Path:
    """Where the papers of a site go when nothing is said: ``north`` has ``north papers`` beside it."""
    whole = folder.resolve()
    return whole.with_name(f"{whole.name} papers")


def check_whose(folder: Path, out: Path) -> None:
    """Raise WrongUse when a site has lists, and the papers in ``out`` are another's: carts would be taken for its own.

    A state that cannot be read is left to whoever needs it.
    """
    if not (is_ours(out) and state_path(folder).exists()):
        return
    with suppress(StateError), open_state(state_path(folder)) as state:
        if owner := site_mark(state):
            with refusals():
                refuse_foreign(out, PAPERS, owner)


def list_papers(out: Path) -> tuple[str, ...]:
    """The documents of a folder that this program wrote, as paths below it with ``/``; none for any other folder."""
    if not is_ours(out):
        return ()
    found = [path for path in out.rglob("*") if path.suffix in READABLE and path.is_file() and not path.is_symlink()]
    files = sorted(path.relative_to(out).as_posix() for path in found if path.name[0] != ".")
    listed = listed_files(out)
    return tuple(file for file in files if listed is None or file in listed)


def read_plan_of(out: Path) -> Plan | None:
    """The plan beside the papers; None when there is none, or it is of another version of the program."""
    if not is_ours(out):
        return None
    try:
        return plan_from_json((out / "plan.json").read_bytes())
    except (OSError, ValueError):
        return None


def lists_by_case(out: Path) -> dict[str, str]:
    """The file of each case's pick list, by case number."""
    return {case: file for file, (_digest, case, _revision) in read_ledger(out).items() if case}
