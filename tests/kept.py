"""What takes long to make and is only looked at is made once in a run, by whichever worker asks first."""

from __future__ import annotations

import hashlib
import os
import pickle
import re
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, ParamSpec, TypeVar

if TYPE_CHECKING:
    from picklist.documents.pages import Sheet
    from picklist.model.plan import Plan
    from picklist.model.site import Site
    from picklist.plan import PlanRequest
    from picklist.problems import Problem

SAMPLE = Path(__file__).parents[1] / "sample_inputs" / "hospital"
FOLDER = "PICKLIST_TESTS_KEPT"  # in the environment, for the workers of one run
Made = TypeVar("Made")
Contents = ParamSpec("Contents")


def keep(name: str, made: bytes) -> bytes:
    """Put bytes under a name, whole or not at all."""
    place = Path(os.environ[FOLDER]) / name
    fresh = place.with_name(f"{name}.{os.getpid()}.{id(made)}")
    fresh.write_bytes(made)
    fresh.replace(place)
    return made


def kept(name: str) -> bytes | None:
    """What lies under a name, if anybody has put it there."""
    try:
        return (Path(os.environ[FOLDER]) / name).read_bytes()
    except FileNotFoundError:
        return None


def made_once(name: str, make: Callable[[], Made]) -> Made:
    """What ``make`` gives, made once in a run of the tests; each worker has its own copy. For what nobody changes."""
    if FOLDER not in os.environ:  # outside a run of the tests
        return make()
    found = kept(name) or keep(name, pickle.dumps(make()))
    result: Made = pickle.loads(found)
    return result


def sample_read() -> tuple[Site | None, tuple[Problem, ...]]:
    """The sample as ``read_site`` reads it, once in a run."""
    from picklist.inputs import read_site

    return made_once("sample read", lambda: read_site(SAMPLE))


def packed_once(pack: Callable[Contents, bytes]) -> Callable[Contents, bytes]:
    """``pack``, which is asked once in a run for the workbook of the same contents."""

    def known(*contents: Contents.args, **more: Contents.kwargs) -> bytes:
        name = hashlib.sha256(repr((pack.__name__, contents, more)).encode()).hexdigest()
        return kept(name) or keep(name, pack(*contents, **more))

    return known


def folder_once(name: str, make: Callable[[Path], None]) -> Path:
    """A folder that ``make`` fills, made once in a run of the tests, for all workers; tests work on copies."""
    place = Path(os.environ[FOLDER]) / name
    if not place.is_dir():
        fresh = place.with_name(f"{name}.{os.getpid()}")
        make(fresh)
        try:
            fresh.rename(place)
        except OSError:  # another worker was quicker
            shutil.rmtree(fresh)
    return place


def planned_once(
    site: Site,
    problems: tuple[Problem, ...],
    order: PlanRequest,
    progress: Callable[..., None] = lambda *_: None,
    _carts_known: object = None,
) -> Plan:
    """``make_plan`` of the same site and request once in a run; it tells its stages each time."""
    from picklist.plan import make_plan

    name = hashlib.sha256(pickle.dumps((site, problems, order))).hexdigest()
    stages: list[tuple[str, int, int]] = []

    def tell(doing: str, done: int = 0, of: int = 0) -> None:
        stages.append((doing, done, of))
        progress(doing, done, of)

    def plan() -> tuple[Plan, list[tuple[str, int, int]]]:
        return make_plan(site, problems, order, tell), stages

    found, said = made_once(name, plan)
    for stage in said[len(stages) :]:
        progress(*stage)
    return found


@contextmanager
def without_remedies() -> Iterator[None]:
    """Builds look for no remedies, which takes most of planning; for tests that look at none."""
    import pytest

    from picklist.tasks import build

    def plain(site: Site, problems: tuple[Problem, ...], order: PlanRequest, *rest: Any) -> Plan:
        return planned_once(site, problems, replace(order, with_remedies=False), *rest)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(build, "make_plan", plain)
        yield


def is_looked_at(case: str) -> bool:
    """Whether a test may read the list of this case on paper: of one in twenty."""
    digits = re.sub(r"\D", "", case)
    return bool(digits) and int(digits) % 20 == 0


@contextmanager
def few_lists(*read: str) -> Iterator[None]:
    """Most of a build's time goes into typesetting lists that no test reads; one of them stands for all of those.

    ``read``: the cases whose lists a test reads; one in twenty is made as it is in any case.
    """
    import pytest

    from picklist.documents import pages

    typeset = pages.typeset

    def sparing(sheet: Sheet, *, accessible_only: bool) -> bytes:
        if sheet.template != "pick-list" or sheet.data["case"] in read or is_looked_at(sheet.data["case"]):
            return typeset(sheet, accessible_only=accessible_only)
        name = "a list that nobody reads"
        return kept(name) or keep(name, typeset(sheet, accessible_only=accessible_only))

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pages, "typeset", sparing)
        yield


@contextmanager
def in_outline() -> Iterator[None]:
    """Sheets are not typeset, which takes a fifth of a small build: a page that names the sheet stands for its pages.

    For tests that read no printed page. Another sheet has another page, and the same sheet the same.
    """
    import pytest

    from picklist.documents import pages

    def outline(sheet: Sheet, *, accessible_only: bool) -> bytes:
        assert not accessible_only
        return _page_that_says(f"{sheet.template} {pages.sheet_digest(sheet)}")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pages, "typeset", outline)
        yield


def _page_that_says(words: str) -> bytes:
    """A PDF of one page with a line of plain letters and digits (ISO 32000-2, 7.5)."""
    drawn = f"BT /F1 9 Tf 20 20 Td ({words}) Tj ET"
    objects = (
        "<</Type/Catalog/Pages 2 0 R>>",
        "<</Type/Pages/Kids[3 0 R]/Count 1>>",
        "<</Type/Page/Parent 2 0 R/MediaBox[0 0 595 842]/Contents 4 0 R/Resources<</Font<</F1 5 0 R>>>>>>",
        f"<</Length {len(drawn)}>>stream\n{drawn}\nendstream",
        "<</Type/Font/Subtype/Type1/BaseFont/Helvetica>>",
    )
    text, places = "%PDF-1.7\n", []
    for number, one in enumerate(objects, start=1):
        places.append(f"{len(text):010} 00000 n \n")
        text += f"{number} 0 obj\n{one}\nendobj\n"
    table = f"xref\n0 {len(places) + 1}\n0000000000 65535 f \n{''.join(places)}"
    end = f"trailer<</Size {len(places) + 1}/Root 1 0 R>>\nstartxref\n{len(text)}\n%%EOF\n"
    return (text + table + end).encode()
