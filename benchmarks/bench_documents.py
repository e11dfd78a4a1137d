"""What the printing of a day costs.

    python -m benchmarks.bench_documents

The carts of the hand-made evening of the tests, over and over under other numbers, as days of 35
and 200. The floor is the pick lists drawn one after another; all else is a ratio to it, once by
the clock and once by processor seconds, which other work on the machine hardly turns.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import asdict, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter, process_time

from picklist.documents.missing_characters import CharacterCheck
from picklist.documents.pages import Sheet, join
from picklist.documents.plan_json import plan_to_json
from picklist.documents.templates import fonts_of_sheets
from picklist.documents.typesetters import draw_all
from picklist.documents.views.lookup import look_up
from picklist.documents.views.pick_list import pick_list
from picklist.documents.views.stamp import printing_of
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


def timed(work: Callable[[], object]) -> tuple[float, float]:
    """Seconds by the clock, and of the processors, those of processes that were started and have ended among them."""
    began, busy = perf_counter(), process_time() + of_children()
    work()
    return perf_counter() - began, process_time() + of_children() - busy


def of_children() -> float:
    spent = os.times()
    return spent.children_user + spent.children_system


def measure(count: int, folder: Path) -> None:
    plan = make_day(count)
    found, signs = look_up(plan), CharacterCheck(fonts_of_sheets())
    sheets = [
        Sheet(
            file=cart.case.number,
            template="pick-list",
            data=signs.everywhere(asdict(pick_list(found, cart, printing_of(plan)))),
            made=plan.now,
        )
        for cart in plan.carts
    ]
    pdfs: list[bytes] = []
    floor = timed(lambda: pdfs.extend(draw_all(sheets, workers=1)))
    groups = {
        "pick lists, two at once": timed(lambda: draw_all(sheets, workers=2)),
        "joined into one PDF": timed(lambda: join(pdfs, plan.now)),
        "plan as JSON": timed(lambda: plan_to_json(plan)),
        "the whole folder, first run": timed(lambda: write_plan(plan, folder)),
        "the whole folder again, nothing changed": timed(lambda: write_plan(plan, folder)),
    }
    clock, processor = floor
    print(
        f"{count} carts: lists one after another {clock:.2f} s, {1000 * processor / count:.0f} ms a cart of a processor"
    )
    for what, (by_clock, by_processor) in groups.items():
        print(f"  {what:<42}{by_clock / clock:6.2f}{by_processor / processor:6.2f}")


def main(*, small: bool = False) -> None:
    for number in (2,) if small else (35, 200):
        with TemporaryDirectory() as scratch:
            measure(number, Path(scratch) / "out")


if __name__ == "__main__":
    main()
