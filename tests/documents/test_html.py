"""The HTML of a pick list: everything escaped, nothing undefined, one file with its style inside."""

from __future__ import annotations

from html.parser import HTMLParser

import jinja2
import pytest

from picklist.documents.html import pick_list_html
from picklist.documents.templates import template_folder
from picklist.documents.views.lookup import look_up
from picklist.documents.views.pick_list import pick_list
from picklist.documents.views.stamp import printing_of
from tests.documents.carts import NASTY
from tests.documents.findings import rich_plan


class Reader(HTMLParser):
    """Collects the text and the tags of a page."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.tags: set[str] = set()
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:  # noqa: ARG002
        self.tags.add(tag)

    def handle_data(self, data: str) -> None:
        self.texts.append(data.strip())


def html_of(number: str) -> str:
    plan = rich_plan()
    cart = next(cart for cart in plan.carts if cart.case.number == number)
    return pick_list_html(pick_list(look_up(plan), cart, printing_of(plan)))


def test_that_names_are_escaped() -> None:
    page = Reader(html_of("C-1070"))
    assert NASTY in page.texts
    assert NASTY not in html_of("C-1070")
    assert "script" not in page.tags
    assert "&lt;b&gt;" in html_of("C-1070")


def test_that_every_line_is_there() -> None:
    whole = " ".join(Reader(html_of("C-1041")).texts)
    cart = rich_plan().carts[0]
    for line in (*cart.packs, *cart.sundries, *cart.peel_packs, *cart.people):
        assert line.need.thing in whole
    for word in (
        "ALERT: LATEX + MALIGNANT HYPERTHERMIA",
        "GIVE BACK",
        "1 open, 1 hold: none to take",
        "Sign-off by two people",
    ):
        assert word in whole


def test_that_a_stopped_list_is_loud_and_has_no_sign_off() -> None:
    whole = " ".join(Reader(html_of("C-1050")).texts)
    assert "STOPPED" in whole
    assert "cell H14" in whole
    assert "Sign-off" not in whole


def test_that_it_needs_nothing_from_elsewhere() -> None:
    assert "http" not in html_of("C-1041")
    assert "src=" not in html_of("C-1041")


def test_that_a_word_the_view_lacks_is_an_error() -> None:
    folder = template_folder() / "html"
    strict = jinja2.Environment(
        loader=jinja2.FileSystemLoader(folder), undefined=jinja2.StrictUndefined, autoescape=True
    )
    with pytest.raises(jinja2.UndefinedError):
        strict.get_template("pick-list.html.j2").render(view=object())
