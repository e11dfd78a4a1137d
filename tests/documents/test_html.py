"""The HTML of a pick list: everything escaped, nothing undefined, one file with its style inside."""

from __future__ import annotations

import re
from html import escape
from html.parser import HTMLParser
from pathlib import Path

import pytest

from picklist.documents.html_lists import OwnTemplateError, pick_list_html
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.pick_list import PickListView
from picklist.documents.views.stamp import printing_of
from picklist.documents.write_plan import PrintOrder, write_plan
from tests.documents.carts import NASTY
from tests.documents.findings import rich_plan
from tests.documents.revisions import the_change


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


def html_of(number: str, own: Path | None = None) -> str:
    plan = rich_plan()
    cart = next(cart for cart in plan.carts if cart.case.number == number)
    return pick_list_html(PickListView(Lookup(plan), cart, printing_of(plan)), own)


def test_that_names_are_escaped() -> None:
    page = Reader(html_of("C-1070"))
    assert NASTY in page.texts
    assert NASTY not in html_of("C-1070")
    assert "script" not in page.tags
    assert "&lt;b&gt;" in html_of("C-1070")


def test_that_every_line_is_there() -> None:
    whole = " ".join(Reader(html_of("C-1041")).texts)
    cart = rich_plan().carts[0]
    for line in cart.goods:
        assert line.need.thing in whole
    for word in (
        "ALERT: LATEX + MALIGNANT HYPERTHERMIA",
        "NEEDED NEXT",
        "1 open and 1 hold: none to take",
        "Sign-off by two people",
    ):
        assert word in whole


def test_that_a_stopped_list_is_loud_and_has_no_sign_off() -> None:
    whole = " ".join(Reader(html_of("C-1050")).texts)
    assert "ON HOLD" in whole
    assert "cell H14" in whole
    assert "Sign-off" not in whole


def test_that_it_needs_nothing_from_elsewhere() -> None:
    assert "http" not in html_of("C-1041")
    assert "src=" not in html_of("C-1041")


def test_that_a_site_may_alter_the_style_alone(tmp_path: Path) -> None:
    (tmp_path / "pick-list.css").write_text("body { font-size: 13pt; }")
    page = html_of("C-1060", tmp_path)
    assert "font-size: 13pt" in page
    assert "Sign-off by two people" in page


def test_that_a_site_may_bring_its_own_page_and_still_has_its_text_escaped(tmp_path: Path) -> None:
    (tmp_path / "pick-list.html.j2").write_text("<p>{{ view.notes }}</p>")
    assert html_of("C-1070", tmp_path) == f"<p>{escape(NASTY)}</p>"


@pytest.mark.parametrize("text", ["{{ view.colour }}", "{% if %}", "{{ view.__class__.__mro__ }}"])
def test_that_a_wrong_template_of_the_site_is_named(text: str, tmp_path: Path) -> None:
    (tmp_path / "pick-list.html.j2").write_text(text)
    with pytest.raises(OwnTemplateError, match=r"template in .* cannot be used"):
        html_of("C-1060", tmp_path)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{% for line in view.notices %}{{ line }}{% endfor %}", "notices is no longer there; it is now in remarks"),
        ("{{ view.pending | join }}", "pending is no longer there; it is now in remarks, whose lines are pairs"),
        ("{{ view.surgeons }}", "there is no surgeons; did you mean surgeon?"),
        ("{% for row in view.trays %}{{ row.setid }}{% endfor %}", "there is no setid; did you mean set_id"),
        ("{{ trays }}", "trays is not known there; the list is named view"),
    ],
)
def test_that_a_name_that_no_list_has_is_answered_with_the_one_that_it_has(
    text: str, said: str, tmp_path: Path
) -> None:
    (tmp_path / "pick-list.html.j2").write_text(text)
    with pytest.raises(OwnTemplateError, match=re.escape(said)):
        html_of("C-1041", tmp_path)


def test_that_a_wrong_template_of_the_site_stops_no_evening(tmp_path: Path) -> None:
    own = tmp_path / "own"
    own.mkdir()
    (own / "pick-list.html.j2").write_text("{{ view.colour }}")
    written = write_plan(rich_plan(), tmp_path / "out", PrintOrder(own_html=own))
    assert "colour" in written.notices[0]
    assert "Sign-off" in (tmp_path / "out" / "html" / "OR 2 0900 C-1060.html").read_text()


def test_that_a_changed_list_says_what_is_new_here_too() -> None:
    plan = rich_plan()
    view = PickListView(Lookup(plan), plan.carts[0], printing_of(plan), the_change().of_live("C-1041"))
    texts = Reader(pick_list_html(view)).texts
    assert "CHANGED since list 1" in texts
    assert {"BUILT", "TAKE OFF", "ADD", "NOW OPEN", "ADD, FROM CART C-1098", "L7700"} <= set(texts)
