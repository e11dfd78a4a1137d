"""What the printing of a day costs.

    python -m benchmarks.bench_documents

The carts of the hand-made evening of the tests, over and over under other numbers, as days of 35
and 200. The floor is the typesetter alone on the same data, one document a list.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

from benchmarks.bench_commands import list_sheets, typeset_each
from benchmarks.measured import Measured, processor_seconds, table
from picklist.documents.pages import join
from picklist.documents.typesetters import draw_all
from picklist.documents.write_plan import write_plan
from picklist.model.plan import Plan, SundryLine
from tests.documents.findings import rich_plan

PATTERN = (0, 2, 4, 2, 0)  # long, small, waiting, small, long


def make_day(count: int) -> Plan:
    """So many carts, a third of them of several pages."""
    plan = rich_plan()

    def for_case(lines: tuple[SundryLine, ...], number: str) -> tuple[SundryLine, ...]:
        return tuple(replace(one, picks=tuple(replace(pick, case=number) for pick in one.picks)) for one in lines)

    carts = []
    for n in range(count):
        cart, number = plan.carts[PATTERN[n % len(PATTERN)]], f"C-{3000 + n}"
        carts.append(
            replace(
                cart,
                case=replace(cart.case, number=number),
                packs=for_case(cart.packs, number),
                sundries=for_case(cart.sundries, number),
                people=for_case(cart.people, number),
            )
        )
    return replace(plan, carts=tuple(carts))


def measure(count: int, folder: Path) -> list[Measured]:
    """Lists, two at once and joined, and the whole folder, against the typesetter alone."""
    plan = make_day(count)
    sheets, pdfs = list_sheets(plan), list[bytes]()
    floor = processor_seconds(lambda: typeset_each(sheets))
    work: dict[str, Callable[[], object]] = {
        "pick lists one after another": lambda: pdfs.extend(draw_all(sheets, workers=1)),
        "pick lists, two at once": lambda: draw_all(sheets, workers=2),
        "joined into one PDF": lambda: join(pdfs, plan.now),
        "the whole folder, first run": lambda: write_plan(plan, folder),
        "the whole folder again, nothing changed": lambda: write_plan(plan, folder),
    }
    against = "the typesetter alone, a document each"
    return [
        Measured(work=f"{count} carts: {what}", seconds=processor_seconds(task), floor=floor, against=against)
        for what, task in work.items()
    ]


def main(*, small: bool = False) -> list[Measured]:
    """Measure days of two sizes."""
    found = []
    for number in (2,) if small else (35, 200):
        with TemporaryDirectory() as scratch:
            found += measure(number, Path(scratch) / "out")
    return found


if __name__ == "__main__":
    print(table(main()))
