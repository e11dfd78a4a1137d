"""A patient in every field of every message: nothing that is printed, kept or said has it."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from copy import deepcopy
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from picklist.messages.answers import answers_to
from picklist.messages.door import Door
from picklist.messages.events import Event
from picklist.messages.take import take_fhir, take_hl7
from picklist.store.typed_records import form_of
from tests.cli.run import run
from tests.inputs.folders import write_site
from tests.messages.test_fhir import PUBLISHED, R4
from tests.messages.words import EXAMPLES, schedule, siu
from tests.patience import THOROUGH
from tests.privacy.seeded_site import text_of
from tests.privacy.seeds import BARE, SAID, SURNAME, TRACES
from tests.tasks.test_messages import with_codes

HIDING = Door(key=b"k" * 32, hide_ids=True)
SEEDS = (*SAID, *BARE, SURNAME, "WRENFIELD^Oda^F", "19520304", "3125550142", "0312^555-0142", "12 Elm Row, Fernhollow")
FOUND = (*TRACES, "19520304", "3125550142", "Elm Row")
NUMBERS = ("4829130", "19520304", "3125550142")
# Fields in which a lone number is an id, a count or a time by the standard, and nobody could tell it from another.
OF_IDS = {"MSH-10", "MSH-13"}


def pairs(texts: Mapping[str, Any]) -> list[Any]:
    """Every text with every seed in a thorough run; else the first with all, and every other with two of them."""
    found = []
    for number, (name, text) in enumerate(texts.items()):
        seeds = SEEDS if THOROUGH or not number else [SEEDS[(2 * number + more) % len(SEEDS)] for more in range(2)]
        found += [pytest.param(text, seed, id=f"{name}-{seed}") for seed in seeds]
    return found


def seeded_messages(text: str, seed: str) -> Iterator[tuple[str, str]]:
    """(field, message) with the seed in one field after another, in all components, and in segments of nobody."""
    lines = text.split("\r")
    for at, line in enumerate(lines):
        fields = line.split("|")
        first = 2 if fields[0] == "MSH" else 1
        for number in range(first, max(len(fields), 16)):
            changed = [*fields, *[""] * (number + 1 - len(fields))]
            changed[number] = "^".join([seed] * 6)
            name = f"{fields[0]}-{number + 1 if fields[0] == 'MSH' else number}"
            yield name, "\r".join([*lines[:at], "|".join(changed), *lines[at + 1 :]])
    yield "ZPT", f"{text}\rZPT|1|{seed}\r{seed}\rNTE|1||{seed}"
    yield "before", f"{seed}\r{text}"


ANSWERED = datetime(2026, 11, 25, 18, tzinfo=UTC)  # no clock: 19:52 would look like the year of a birth


def traces(text: str) -> list[str]:
    return [one for one in FOUND if one in text]


def all_of(taken: Any) -> str:
    """Whatever is kept, shown or sent on of a message, and the schedule made of it."""
    kept = form_of(Event).dump_json(taken.event).decode() if taken.event else ""
    made = repr(schedule(taken.event)) if taken.event else ""
    return "\n".join((taken.digest, taken.control, taken.place, taken.why, taken.appointment, kept, made))


@pytest.mark.parametrize(("text", "seed"), pairs({"surgical": siu()} | EXAMPLES))
def test_that_no_field_of_hl7_lets_a_patient_through(text: str, seed: str) -> None:
    leaks = {}
    for field, message in seeded_messages(text, seed):
        if field in OF_IDS and seed in NUMBERS:
            continue
        taken = take_hl7(message, HIDING)
        if found := traces(all_of(taken)):
            leaks[field] = found
        if taken.header is not None and field.split("-")[0] != "MSH":
            for answer in answers_to(taken.header, taken.answer, ANSWERED, "A1", place=taken.place):
                assert traces(answer) == []
    assert leaks == {}


def places_of(node: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The ways to all texts of a resource."""
    if isinstance(node, dict):
        for name, value in node.items():
            yield from places_of(value, (*path, name))
    elif isinstance(node, list):
        for number, value in enumerate(node):
            yield from places_of(value, (*path, number))
    elif isinstance(node, str):
        yield path


@pytest.mark.parametrize(("bundle", "seed"), pairs({"surgical": R4} | PUBLISHED))
def test_that_no_element_of_fhir_lets_a_patient_through(bundle: dict[str, Any], seed: str) -> None:
    leaks = {}
    for path in places_of(bundle):
        changed = deepcopy(bundle)
        node: Any = changed
        for step in path[:-1]:
            node = node[step]
        node[path[-1]] = seed
        node_of_extension = node if isinstance(node, dict) else {}
        node_of_extension["extension"] = [{"url": seed, "valueString": seed}]
        for taken in take_fhir(json.dumps(changed), HIDING):
            if found := traces(all_of(taken)):
                leaks[path] = found
    assert leaks == {}


def test_that_a_whole_run_keeps_and_prints_nothing_of_a_patient(tmp_path: Path) -> None:
    site = write_site(tmp_path / "site", with_codes)
    texts = [
        re.sub(r"MSG1", f"MSG{number}", message)
        for number, seed in enumerate((*SAID, SURNAME))
        for field, message in seeded_messages(siu(), seed)
        if field.split("-")[0] != "MSH"
    ]
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "a.hl7").write_text("\r".join(texts), encoding="utf-8")
    (tmp_path / "in" / f"{SAID[0]}.json").write_text(json.dumps(R4).replace("A77", SURNAME), encoding="utf-8")
    now = ("--now", "2026-11-25 18:00")
    told = [run("receive", str(site), str(tmp_path / "in"), *now), run("check", str(site), *now)]
    told.append(run("build", str(site), *now, "--out", str(tmp_path / "out"), "--no-chance"))
    told.append(run("records", str(site), "--out", str(tmp_path / "records")))
    assert traces("\n".join(f"{said}{problems}" for _, said, problems in told)) == []
    kept = [path for folder in ("site", "records") for path in (tmp_path / folder).iterdir()]
    kept += [
        *tmp_path.glob("site.picklist*"),
        *(path for path in (tmp_path / "out").glob("*") if path.suffix == ".json"),
    ]
    assert len(kept) > 10
    assert {path.name: found for path in kept if path.is_file() and (found := traces(text_of(path)))} == {}
    assert not (tmp_path / "records" / "message key.csv").exists()
