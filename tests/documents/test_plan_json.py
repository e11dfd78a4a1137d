"""The plan as JSON comes back whole, and its schema says what is in it."""

from __future__ import annotations

import json
from dataclasses import replace

import jsonschema
import pydantic
import pytest

from picklist.documents.plan_json import plan_from_json, plan_schema, plan_to_json, schema_text
from picklist.model.conflicts import Cluster
from picklist.wording.chances import what_is_drawn
from picklist.wording.say_conflicts import proof_opening
from picklist.wording.say_department import waiting
from tests.builders import says
from tests.documents.findings import rich_plan
from tests.sets.test_conflicts import planned, wrist_day


def test_that_a_plan_comes_back_as_it_was() -> None:
    plan = rich_plan()
    text = plan_to_json(plan)
    assert plan_from_json(text) == plan
    assert plan_to_json(plan_from_json(text)) == text


def test_that_a_plan_of_another_version_or_a_damaged_one_is_refused() -> None:
    plan = rich_plan()
    for broken in (plan_to_json(replace(plan, version=0)), b"{}", plan_to_json(plan)[:-40], b""):
        with pytest.raises(ValueError):  # noqa: PT011 (what pydantic says is its own affair)
            plan_from_json(broken)


def test_that_the_schema_accepts_the_plan_and_refuses_a_broken_one() -> None:
    document = json.loads(plan_to_json(rich_plan()))
    checker = jsonschema.Draft202012Validator(plan_schema())
    checker.check_schema(plan_schema())
    checker.validate(document)
    document["carts"][0]["case"]["minutes"] = "long"
    assert not checker.is_valid(document)


def test_that_the_document_says_whether_remedies_were_sought_and_one_without_the_word_means_that_they_were() -> None:
    document = json.loads(plan_to_json(replace(rich_plan(), remedies_sought=False)))
    jsonschema.Draft202012Validator(plan_schema()).validate(document)
    assert document["remedies_sought"] is False
    assert not plan_from_json(json.dumps(document).encode()).remedies_sought
    del document["remedies_sought"]
    assert plan_from_json(json.dumps(document).encode()).remedies_sought


def test_that_a_plan_which_kept_what_sets_wait_for_in_words_is_still_read() -> None:
    document = json.loads(plan_to_json(rich_plan()))
    step = next(one for run in document["department"]["runs"] for one in run["steps"] if one["waited"])
    del step["waits"]
    step["waited_for"] = "Washer 2"
    plan = plan_from_json(json.dumps(document).encode())
    assert plan.department is not None
    steps = [one for run in plan.department.runs for one in run.steps]
    assert [waiting(one, plan.settings.site_clock) for one in steps if one.waited and not one.waits] == ["30 min"]


def test_that_a_conflict_comes_back_with_what_there_is_to_say_and_an_older_one_with_what_was_said() -> None:
    site = wrist_day()
    (conflict,) = planned(site).conflicts
    plan = replace(rich_plan(), clusters=(Cluster(id="G", cases=conflict.cases, conflicts=(conflict,)),))
    text = plan_to_json(plan)
    (back,) = plan_from_json(text).conflicts
    assert back == conflict
    document = json.loads(text)
    older = document["clusters"][0]["conflicts"][0]
    assert (older["statement"], older["proof"]["statement"]) == ("", "")  # kinds and numbers, no sentence
    del older["facts"]
    older["statement"], older["proof"]["statement"] = "Case 3 waits.", "At 10:45 there is none."
    (back,) = plan_from_json(json.dumps(document).encode()).conflicts
    assert (says(back), proof_opening(back, site.settings.site_clock)) == ("Case 3 waits.", "At 10:45 there is none.")


def test_that_instants_are_utc() -> None:
    assert json.loads(plan_to_json(rich_plan()))["now"] == "2026-11-26T01:15:00Z"


def test_that_something_else_is_refused() -> None:
    with pytest.raises(pydantic.ValidationError):
        plan_from_json(b"{}")


def test_that_the_schema_is_json() -> None:
    assert json.loads(schema_text()) == plan_schema()


def test_that_a_plan_kept_before_chances_had_a_second_figure_is_read_without_one() -> None:
    """Such a plan says in words what its chances were drawn from, and has no chance when hurried."""
    facts = json.loads(plan_to_json(rich_plan()))
    del facts["chance"]["drawn_from"]
    facts["chance"]["spread_source"] = "published spread"
    for one in facts["chance"]["reuses"]:
        del one["fails_hurried"]
    chance = plan_from_json(json.dumps(facts).encode()).chance
    assert chance is not None
    assert chance.drawn_from is None
    assert {one.fails_hurried for one in chance.reuses} == {None}
    assert len(what_is_drawn(chance)) == 2
