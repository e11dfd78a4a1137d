"""The page as a file: whole, escaped, of one piece, and small enough for an old machine."""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Callable
from dataclasses import replace
from hashlib import sha256
from urllib.parse import unquote

import jinja2
import pytest

from picklist.documents.board.page import _environment, board_html
from picklist.model.plan import Plan
from tests.board.days import heavy_day, sample_day
from tests.board.names import NASTY, nasty_plan
from tests.board.reading import Page
from tests.documents.findings import rich_plan

MOST_BYTES = 2_000_000


def test_that_the_same_plan_gives_the_same_page() -> None:
    assert board_html(rich_plan()) == board_html(rich_plan())


@pytest.mark.parametrize("day", [rich_plan, sample_day, heavy_day])
def test_that_every_link_leads_somewhere_and_no_name_is_given_twice(day: Callable[[], Plan]) -> None:
    page = Page(board_html(day()))
    ids = page.values("id")
    assert len(ids) == len(set(ids)) > 30
    wanted = {href.removeprefix("#") for href in page.values("href")}
    assert wanted <= set(ids)
    assert {name for value in page.values("aria-labelledby") for name in value.split()} <= set(ids)


def test_that_200_cases_and_a_hundred_conflicts_stay_under_two_megabytes() -> None:
    plan = heavy_day()
    assert len(plan.carts) == 200
    assert sum(len(cluster.conflicts) for cluster in plan.clusters) > 50
    assert len(board_html(plan).encode()) < MOST_BYTES


def test_that_names_are_shown_as_they_are_and_never_run() -> None:
    html = board_html(nasty_plan())
    page = Page(html)
    assert NASTY in page.whole
    assert "<img" not in html
    assert html.count("<script") == html.count("</script>") == 1
    assert not [attrs for _, attrs in page.tags if any(name.startswith("on") for name in attrs)]
    assert {tag for tag, _ in page.tags}.isdisjoint({"img", "iframe", "object", "link", "form", "base"})


def test_that_nothing_is_fetched_and_only_the_own_script_may_run() -> None:
    html = board_html(rich_plan())
    assert not re.search(r"https?:|//[a-z]", re.sub(r"base64,[\w+/=]+", "", html))
    assert set(re.findall(r"url\((\w+):", html)) == {"data"}
    page = Page(html)
    assert not page.values("src")
    assert all(href.startswith("#") for href in page.values("href"))
    (policy,) = [attrs["content"] for tag, attrs in page.tags if tag == "meta" and "http-equiv" in attrs]
    script = html[html.index("<script>") + len("<script>") : html.index("</script>")]
    digest = b64encode(sha256(script.encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in policy
    assert "default-src 'none'" in policy


def test_that_the_page_reads_without_its_script() -> None:
    """Every conflict with its proof and remedies, every case and every deadline stands in the page as text."""
    plan = rich_plan()
    whole = Page(board_html(plan)).whole
    for cluster in plan.clusters:
        for one in cluster.conflicts:
            assert one.statement in whole
            assert all(remedy.text in whole for remedy in one.remedies)
            assert one.proof is None or one.proof.statement in whole
    for cart in plan.carts:
        assert f"Case {cart.case.number}" in whole
    assert "last resort" in whole


def test_that_the_cautions_and_the_settings_stand_on_the_page() -> None:
    whole = Page(board_html(rich_plan())).whole
    assert "Planning aid, not a record of sterility or release" in whole
    assert "Immediate-use sterilization is not a planning option" in whole
    assert "Cart complete before wheels-in" in whole


def test_that_a_quiet_day_says_so() -> None:
    quiet = rich_plan(clusters=(), reuses=(), department=None, chance=None)
    whole = Page(board_html(quiet)).whole
    assert "No conflicts: every case has its sets in time." in whole
    assert "This plan has no department run." in whole


def test_that_a_day_without_cases_can_be_shown() -> None:
    empty = rich_plan(clusters=(), reuses=(), department=None, chance=None, carts=(), cases=(), assignments=())
    assert "No cases." in Page(board_html(empty)).whole


def test_that_deep_links_keep_awkward_names() -> None:
    plan = rich_plan()
    odd = replace(plan.carts[0], case=replace(plan.carts[0].case, number="A/7 b#2 é%"))
    page = Page(board_html(replace(plan, carts=(odd, *plan.carts[1:]))))
    (name,) = [value for value in page.values("id") if unquote(value) == "case=A/7 b#2 é%"]
    assert not re.search(r"\s|#", name)


def test_that_a_word_the_view_lacks_is_an_error() -> None:
    with pytest.raises(jinja2.UndefinedError):
        _environment().get_template("board.html.j2").render(
            view=object(), script_hash="", fonts=(), style="", script=""
        )
