"""What reads an input, alone: the site, its plan and its forms are read once, so that thousands of inputs cost little.

Of ``doors.py`` an input goes the whole way into the site; here it goes as far as what is understood of it.
"""

from __future__ import annotations

import traceback
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import cached_property
from io import StringIO
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

from picklist.evening.check_facts import check_facts
from picklist.evening.crew_workbook import read_cart_workbook
from picklist.evening.scan_answers import say
from picklist.evening.scan_book import ScanBook
from picklist.evening.scans import ScanSession
from picklist.evening.usage import read_usage
from picklist.labels.label import LabelError
from picklist.labels.reading import as_meant, other_readings, read_label
from picklist.messages.door import Door as MessageDoor
from picklist.messages.hl7_reader import decode_message, split_file
from picklist.messages.take import take_fhir, take_hl7
from picklist.model.plan import Plan
from picklist.model.site import Site
from picklist.plan import PlanRequest, make_plan
from picklist.problems import Problem
from picklist.tables.drafts import Ledger
from picklist.tables.folder import read_folder
from picklist.tasks.errors import WrongUse, refusals
from picklist.tasks.own_export import look_at_export
from picklist.tasks.read_folder import load_folder
from picklist.upkeep.office_compare import compare_return
from picklist.upkeep.office_problems import find_strange
from picklist.upkeep.office_return import read_office_workbook
from picklist.upkeep.stamps import DamagedBookError
from tests.evening.scanning import InMemory
from tests.hard import spoil as s
from tests.hard.evening import NOW, Evening
from tests.hard.fuzz import TooLongError, bounded
from tests.inputs.folders import DAY

LABELS = b"(01)09506000134352(17)281231(10)L2\n01095060001343521728123110L2\n+A99912345/$$52001510X3/S7\n"
Read = Callable[["Desk", Path], "tuple[Problem, ...]"]


@dataclass(frozen=True)
class Desk:
    """All that readers need besides the input, read once; ``room`` is where inputs are laid."""

    evening: Evening
    room: Path

    @cached_property
    def site(self) -> Site:
        """The evening's site."""
        site = load_folder(self.evening.site, NOW).site
        assert site is not None
        return site

    @cached_property
    def plan(self) -> Plan:
        """Its plan."""
        loaded = load_folder(self.evening.site, NOW)
        order = PlanRequest(day=DAY, now=loaded.now, with_chance=False)
        return make_plan(self.site, loaded.problems, order)

    @cached_property
    def revisions(self) -> Mapping[str, int]:
        """Each cart has its first list."""
        return {cart.case.number: 1 for cart in self.plan.carts}


@dataclass(frozen=True, slots=True, kw_only=True)
class Reader:
    """A reader: an input that it understands, the ways in which that is spoiled, and what reads it."""

    file: str
    ways: tuple[s.Spoil, ...]
    read: Read


def _table(_desk: Desk, file: Path) -> tuple[Problem, ...]:
    """One table of the site, to typed rows."""
    ledger = Ledger(DAY)
    found = read_folder(file.parent, ledger)
    for table in list(found.grids):
        found.rows(table, ledger)
    return ledger.problems()


def _carts(desk: Desk, file: Path) -> tuple[Problem, ...]:
    clock = desk.site.settings.site_clock
    facts, problems = read_cart_workbook(file, clock, desk.plan.now, desk.site.items)
    return (*problems, *check_facts(facts, desk.plan, desk.site)[1])


def _used(desk: Desk, file: Path) -> tuple[Problem, ...]:
    return read_usage(file, desk.plan, desk.site)[1]


def _scans(desk: Desk, file: Path) -> tuple[Problem, ...]:
    clock = desk.site.settings.site_clock
    book = ScanBook(plan=desk.plan, site=desk.site, revisions=desk.revisions, today=clock.day(desk.plan.now))
    session = ScanSession(reports=InMemory(the_book=book), clock=clock, now=lambda: desk.plan.now)
    for line in StringIO(file.read_bytes().decode("utf-8-sig", errors="replace"), newline=None):
        for answer in session.take(line):
            assert say(answer, clock)
    session.end()
    return tuple(session.problems)


def _labels(_desk: Desk, file: Path) -> tuple[Problem, ...]:
    for line in file.read_bytes().decode("utf-8", errors="replace").splitlines():
        with suppress(LabelError):
            read_label(line, DAY)
        for layout, text in other_readings(line):
            assert as_meant(line, layout) == text
    return ()


def _office(desk: Desk, file: Path) -> tuple[Problem, ...]:
    returned, problems = read_office_workbook(file)
    if returned is None:
        return problems
    find_strange(desk.site, returned, sent=None, ours=True)
    try:
        comparison = compare_return(desk.site, returned, DAY)
    except DamagedBookError:
        return problems
    return (*problems, *comparison.problems)


def _export(desk: Desk, file: Path) -> tuple[Problem, ...]:
    with refusals():
        look_at_export(desk.evening.site, file)
    return ()


def _messages(_desk: Desk, file: Path) -> tuple[Problem, ...]:
    door, text = MessageDoor(key=b"k" * 16), decode_message(file.read_bytes())
    if text.lstrip()[:1] in ("{", "[", "<"):
        take_fhir(text, door)
    else:
        for one in split_file(text)[0]:
            take_hl7(one, door)
    return ()


READERS: dict[str, Reader] = {
    **{
        f"table: {name}": Reader(file=f"csv/{name}", ways=s.TEXT, read=_table)
        for name in ("Schedule.csv", "Cards.csv", "Sets.csv", "Lots.csv", "Settings.csv", "Routes.csv")
    },
    "workbook": Reader(file="site/cards.xlsx", ways=s.WORKBOOK, read=_table),
    "carts": Reader(file="came/carts.xlsx", ways=s.WORKBOOK, read=_carts),
    "used": Reader(file="came/used.xlsx", ways=s.WORKBOOK, read=_used),
    "used in text": Reader(file="came/used.csv", ways=s.TEXT, read=_used),
    "office": Reader(file="came/office.xlsx", ways=s.WORKBOOK, read=_office),
    "export": Reader(file="came/export.csv", ways=s.TEXT, read=_export),
    "scans": Reader(file="came/scans.txt", ways=s.TEXT, read=_scans),
    "labels": Reader(file="came/labels.txt", ways=s.TEXT, read=_labels),
    "HL7": Reader(file="came/messages.hl7", ways=s.TEXT, read=_messages),
    "FHIR": Reader(file="came/bundle.json", ways=s.JSON, read=_messages),
    "NDJSON": Reader(file="came/lines.ndjson", ways=s.JSON, read=_messages),
}


@contextmanager
def at_desk(evening: Evening) -> Iterator[Desk]:
    """A desk over an evening, with a room of its own."""
    with TemporaryDirectory(prefix="hard-readers-") as folder:
        yield Desk(evening, Path(folder))


def sound_input(desk: Desk, reader: Reader) -> bytes:
    """What a reader understands."""
    return LABELS if reader.file.endswith("labels.txt") else (desk.evening.place / reader.file).read_bytes()


def read_one(desk: Desk, name: str, data: bytes) -> None:
    """Let a reader read an input. Raises what the reader raises, but a refusal; and for a problem without a place."""
    reader = READERS[name]
    file = desk.room / Path(reader.file).name
    file.write_bytes(data)
    problems: tuple[Problem, ...] = ()
    with suppress(WrongUse):
        problems = reader.read(desk, file)
    for one in problems:
        assert one.message, one
        assert one.where.file or one.kind == "missing table", one


def read_spoiled(desk: Desk, seed: int, count: int) -> Iterator[str]:
    """So many spoiled inputs, one in fifty a workbook; each fault with reader and number, which give it again.

    None has a line of 300,000 characters, which alone takes seconds; the doors get those.
    """
    books = [name for name, one in READERS.items() if one.ways is s.WORKBOOK]
    texts = [name for name in READERS if name not in books]
    for number in range(count):
        rng = Random(f"{seed} {number}")
        name = rng.choice(books if number % 50 == 0 else texts)
        ways = [one for one in READERS[name].ways if one is not s.long_line]
        data = s.spoil(sound_input(desk, READERS[name]), rng, ways)
        try:
            with bounded():
                read_one(desk, name, data)
        except (Exception, TooLongError):
            yield f"{name}, number {number}: {traceback.format_exc()}"
