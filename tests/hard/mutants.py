"""By hand: ``python -m tests.hard.mutants 400 --seed 17 [--of stock]`` changes so many rules, one at a time.

mutmut makes the mutants (``pip install mutmut``, in an environment of your own); the tests nearest to each judge it.
mutmut's own runner would first trace every test to know which ones those are.
"""

from __future__ import annotations

import argparse
import os
import random
import resource
import shutil
import sys
from collections import Counter
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

# The first that fits the start of a module's path: which tests judge its mutants, the quick ones first.
NEAREST = {
    "resolve": "resolve: people layers conditions sides packs_and_merging latex worked_examples",
    "stock": "stock: giving on_carts walking keep_printed",
    "sets/allocation/": "sets: waits what_decided allocate_sets allocate",
    "sets/allocate_group": "sets: try_change what_decided several_sets allocate_sets",
    "sets/allocat": "sets: what_decided several_sets allocate_sets records conflicts",
    "sets/calendar": "sets: calendar walk_examples walk_published walk_adjoint",
    "sets/start_slots": "sets: calendar walk_examples walk_published walk_adjoint",
    "sets/timed_route": "sets: walk_examples walk_published calendar walk_adjoint states",
    "sets/walk": "sets: walk_examples states calendar walk_adjoint",
    "sets/deadlines": "sets: reuse walk_examples ways_back conflicts states",
    "sets/reuse": "sets: reuse ways_back conflicts states",
    "sets/turnaround": "sets: reuse ways_back conflicts states walk_examples",
    "sets/states": "sets: states records held ways_back",
    "sets/case_uses": "sets: uses conflicts held",
    "sets/keep_printed_sets": "sets: keep_printed",
    "sets/remedies": "sets: remedies several_sets remedies_apart",
    "sets/try_change": "sets: try_change",
    "sets/find_conflicts": "sets: find_conflicts conflicts",
    "sets/": "sets: conflicts what_decided several_sets states ways_back held allocate_sets",
    "evening/held_sets": "evening: revise",
    "evening/match": "evening: match",
    "evening/since_built": "tasks: since_built",
    "evening/add_reports": "evening: add_reports",
    "evening/left_to_fetch": "evening: scan_verdict scan_answers",
    "evening/scan_verdict": "evening: scan_verdict",
    "evening/after_": "evening: after_day usage",
    "evening/check_facts": "evening: crew_workbook scan_labels; tasks: built_carts reports",
    "evening/crew_": "evening: crew_workbook; tasks: built_carts forms_in_place",
    "evening/c": "evening: compare renewal",
    "upkeep/effect": "upkeep: effect",
    "upkeep/card_rows": "upkeep: card_rows write_back coming apply",
    "upkeep/timeline": "upkeep: undo coming apply",
    "upkeep/approval": "upkeep: apply write_back coming",
    "upkeep/proposals": "upkeep: write_back coming effect",
    "upkeep/slots": "upkeep: card_rows effect office_return",
    "upkeep/office_": "upkeep: office_return outside coming",
}
LEFT_OUT = ("__init__", "evening/content", "upkeep/office_book", "upkeep/office_style")
ENOUGH = 60  # seconds of processor time for one mutant
OPTIONS = (
    *("-p", "no:cacheprovider", "-p", "no:xdist", "-o", "addopts=--import-mode=importlib"),
    *("-W", "ignore::pytest.PytestAssertRewriteWarning"),
)


def tests_of(module: str) -> list[str]:
    """The test files that judge a module, such as ``sets/proof``; none where nobody was named."""
    said = next((tests for start, tests in NEAREST.items() if module.startswith(start)), "")
    rooms = [room.partition(": ") for room in said.split("; ") if not module.endswith(LEFT_OUT)]
    return [f"tests/{room}/test_{name}.py" for room, _, names in rooms for name in names.split()]


def make(package: Path, part: str) -> dict[str, list[str]]:
    """Write the mutants of a package into its files, all asleep; their names and the tests that judge them."""
    from mutmut.mutation.file_mutation import mutate_file_contents

    found: dict[str, list[str]] = {}
    for path in sorted(package.rglob("*.py")):
        module = path.relative_to(package).with_suffix("").as_posix()
        tests = tests_of(module)
        if not tests or part not in module:
            continue
        made = mutate_file_contents(str(path), path.read_text(encoding="utf-8"))
        path.write_text(made.code, encoding="utf-8")
        dotted = ".".join(("picklist", *Path(module).parts))
        found |= {f"{dotted}.{name}": tests for name in made.mutant_names}
    return found


def judge(name: str, tests: list[str]) -> str:
    """Wake one mutant up in a process of its own: ``killed``, ``survived``, or what else became of it."""
    from mutmut.mutation.trampoline import set_mutant_under_test

    child = os.fork()
    if not child:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        resource.setrlimit(resource.RLIMIT_CPU, (ENOUGH, ENOUGH))
        set_mutant_under_test(name)
        os._exit(pytest.main(["-x", "-q", "--hypothesis-seed=17", *OPTIONS, *tests]))
    ended = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    return {0: "survived", 1: "killed"}.get(ended, f"killed, by {ended}")


def main() -> int:
    """Make, sample and judge mutants, and print each that survives."""
    parser = argparse.ArgumentParser(prog="python -m tests.hard.mutants", description=__doc__)
    parser.add_argument("count", type=int, help="how many")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--of", default="", help="only modules with this in their path, such as sets/proof")
    said = parser.parse_args()
    here = Path(__file__).parents[2]
    with TemporaryDirectory(prefix="mutants-") as place:
        for part in ("picklist", "tests", "templates", "benchmarks", "sample_inputs", "pyproject.toml"):
            (shutil.copytree if (here / part).is_dir() else shutil.copy)(here / part, Path(place) / part)
        os.chdir(place)
        sys.path.insert(0, place)
        made = make(Path(place) / "picklist", said.of)
        names = random.Random(said.seed).sample(sorted(made), min(said.count, len(made)))
        os.environ["MUTANT_UNDER_TEST"] = ""
        nearest = sorted({one for name in names for one in made[name]})
        pytest.main([*OPTIONS, "--collect-only", "-qqq", *nearest])  # every child has it all loaded then
        counts: Counter[str] = Counter()
        try:
            for name in names:
                verdict = judge(name, made[name])
                counts[verdict.partition(",")[0]] += 1
                if verdict == "survived":
                    sys.stdout.write(f"{name}\n")
                    sys.stdout.flush()
        except KeyboardInterrupt:
            sys.stdout.write("ended early: ")
        sys.stdout.write(f"{counts.total()} of {len(made)} mutants, seed {said.seed}: {dict(counts)}\n")
        os.chdir(here)
    return 0


if __name__ == "__main__":
    sys.exit(main())
