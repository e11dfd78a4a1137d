"""No address, name or link leads out of the site's folder and its papers, whatever stands in it."""

from __future__ import annotations

import re
from pathlib import Path
from threading import Thread
from urllib.parse import quote

from starlette.routing import Mount, Route

from picklist.server.app import make_app
from picklist.server.cart_pages import FormTold
from picklist.server.desk import Desk
from picklist.tasks.cart_reports import carts_told
from tests.server.forms import fields_of
from tests.server.site import DOOR, at, client_of, work_of

SECRET = "the-secret-of-another-folder"
OUTSIDE = (
    "../secret.csv",
    "..%2fsecret.csv",
    "%2e%2e%2fsecret.csv",
    "%2e%2e/secret.csv",
    "..%5csecret.csv",
    "%252e%252e%252fsecret.csv",
    "....//secret.csv",
    "%00",
    "%ff%fe",
    "..",
    ".",
    "~root",
    "%0d%0aset-cookie:%20a=b",
    "C:%5csecret.csv",
)


def routes() -> list[Route]:
    """Every address of the page."""
    app = make_app(Desk(Path("none"), Path("none"), lambda: NotImplemented), DOOR)
    mounted = [route for route in app.routes if isinstance(route, Mount)]
    return [route for mount in mounted for route in mount.routes if isinstance(route, Route)]


def addresses(given: str) -> list[tuple[str, str]]:
    """Each address that holds a name, with what is given in its place, and its method."""
    found = []
    for route in routes():
        if "{" in route.path:
            method = "POST" if "POST" in (route.methods or ()) else "GET"
            found.append((method, re.sub(r"\{[^}]*\}", lambda _: given, route.path).strip("/")))
    return found


def test_no_name_in_an_address_leads_out(evening: Desk) -> None:
    (evening.folder.parent / "secret.csv").write_text(SECRET, encoding="utf-8")
    client = client_of(evening)
    assert len(addresses("x")) >= 15
    for given, (method, page) in ((one, where) for one in OUTSIDE for where in addresses(one)):
        form = {"token": DOOR.token, "name": "../secret.csv"} if method == "POST" else None
        answer = client.request(method, at(page), data=form)
        shown = (
            (200, 303, 307) if set(given) == {"."} or page.endswith("/drop") else (303,)
        )  # dots lead to another page
        assert answer.status_code in (*shown, 404, 405, 422), (method, page, answer.status_code)
        assert SECRET not in answer.text
        assert "a=b" not in answer.headers.get("set-cookie", "")
        if "/work/" in answer.headers.get("location", ""):
            assert "proposal" in work_of(evening, answer.headers["location"]).refused, page
    assert (evening.folder.parent / "secret.csv").read_text(encoding="utf-8") == SECRET


def test_no_name_in_a_query_or_form_leads_out(evening: Desk) -> None:
    (evening.folder.parent / "secret.csv").write_text(SECRET, encoding="utf-8")
    client = client_of(evening)
    queries = ("carts/case?case=", "decisions/of?about=", "carts?find=", "papers?find=")
    for page, given in ((page, given) for page in queries for given in OUTSIDE):
        answer = client.get(at(page + given))
        assert answer.status_code in (200, 404, 422), (page, answer.status_code)
        assert SECRET not in answer.text
    for given in OUTSIDE[:4]:
        assert SECRET not in client.get(at(f"why?thing=x&case={given}")).text
        answer = client.post(at("offices/workbook"), data={"token": DOOR.token, "office": given})
        assert answer.status_code == 422
        assert SECRET not in answer.text


def test_a_link_among_the_papers_that_leads_out_is_neither_listed_nor_sent(evening: Desk) -> None:
    other = evening.folder.parent / "other"
    other.mkdir()
    (other / "letter.pdf").write_text(SECRET, encoding="utf-8")
    (evening.out / "more").symlink_to(other, target_is_directory=True)
    (evening.out / "letter.pdf").symlink_to(other / "letter.pdf")
    client = client_of(evening)
    assert "letter" not in client.get(at("papers")).text
    for file in ("letter.pdf", "more/letter.pdf", "more%2fletter.pdf"):
        answer = client.get(at(f"papers/{file}"))
        assert answer.status_code == 404
        assert SECRET not in answer.text


def test_a_file_kept_over_a_link_that_leads_out_leaves_what_it_leads_to_as_it_was(fresh: Desk) -> None:
    lots = fresh.folder / "Lots.csv"
    outside = fresh.folder.parent / "stock of another house.csv"
    lots.rename(outside)
    lots.symlink_to(outside)
    before, client = outside.read_bytes(), client_of(fresh)
    shorter = b"\n".join(before.splitlines()[:-3]) + b"\n"
    form = {"token": DOOR.token}
    work = work_of(
        fresh, client.post(at("input"), data=form, files={"file": ("Lots.csv", shorter)}).headers["location"]
    )
    kept = client.post(at(f"{work.next}/keep"), data=form)
    assert outside.read_bytes() == before
    assert kept.status_code in (303, 422)
    if kept.status_code == 303:
        assert lots.read_bytes() == shorter
        assert not lots.is_symlink()


def test_two_browsers_that_tell_of_one_cart_at_once_do_not_undo_each_other(evening: Desk) -> None:
    """Both have the form open; the one who comes second is told so and nothing is lost."""
    plan = evening.plan()
    assert plan is not None
    number = plan.carts[0].case.number
    page = at(f"carts/case?case={quote(number)}")
    forms = [fields_of(client_of(evening).get(page).text) | {"by": by, "state": "done"} for by in ("QX", "mk")]
    answers: list[str] = []

    def tell(form: dict[str, str]) -> None:
        answers.append(client_of(evening).post(page, data=form).headers["location"])

    threads = [Thread(target=tell, args=(form,)) for form in forms]
    for one in threads:
        one.start()
    for one in threads:
        one.join(60)
    works = [work_of(evening, answer) for answer in answers]
    by = carts_told(evening.folder, plan.day).built[number].by
    results = [work.result for work in works]
    refused = [one.stale for one in results if isinstance(one, FormTold) and one.stale]
    assert by in ("QX", "mk")
    assert len(refused) == 1
    assert "was reported again" in refused[0]
