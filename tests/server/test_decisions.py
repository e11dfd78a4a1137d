"""What was decided and who was informed, and what was put back, told on the page and known to every other way."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from html import unescape

import openpyxl
import pytest

from picklist.documents.views.lookup import Lookup
from picklist.evening.keep_plans import what_is_known
from picklist.model.conflicts import RemedyKind, each_conflict
from picklist.model.known import conflict_key, conflicts_by_key, short_items
from picklist.model.plan import Plan
from picklist.model.schedule import Side
from picklist.server.desk import Desk
from picklist.store.state import open_state, state_path
from picklist.tasks.cart_reports import carts_told, put_backs_told, tell_put_back
from picklist.tasks.decisions import Said, matter_of, tell_decision
from picklist.tasks.errors import WrongUse
from picklist.tasks.morning import print_morning
from picklist.tasks.read_folder import load_site
from tests.kept import without_remedies
from tests.server.forms import fields_of
from tests.server.site import DOOR, NOW, at, build, changed_once, client_of
from tests.tasks.small_folder import tell_by_scans


def plan_of(desk: Desk) -> Plan:
    plan = desk.plan()
    assert plan is not None
    return plan


def short_conflict(desk: Desk) -> str:
    return next(conflict_key(c) for c in plan_of(desk).conflicts if c.remedies)


def tell(desk: Desk, about: str, **said: str) -> str:
    """The form as it is shown, with some fields filled in, sent; the page that follows."""
    client, where = client_of(desk), at("decisions/of")
    page = client.get(where, params={"about": about})
    assert page.status_code == 200
    answer = client.post(where, params={"about": about}, data=fields_of(page.text) | said)
    if answer.status_code != 303:
        return str(answer.text)
    return str(client.get(answer.headers["location"]).text)


def test_a_decision_stands_on_every_page_and_the_morning_no_longer_asks_for_it(evening: Desk) -> None:
    about, plan = short_conflict(evening), plan_of(evening)
    asked = len(print_morning(evening.folder, evening.out.parent / "m.pdf", NOW, plan.day).points.decisions)
    page = tell(evening, about, way="0", told="Dr. Quill's office, 19:10", by="co")
    decided = carts_told(evening.folder, plan.day).decided[about]
    [conflict] = [c for c in plan.conflicts if conflict_key(c) == about]
    assert decided.decided == conflict.remedies[0].text
    assert (decided.told, decided.by) == ("Dr. Quill's office, 19:10", "co")
    assert "1 decided" in page
    assert conflict.remedies[0].text in unescape(page)
    assert '<span class="boxed">decided</span>' in client_of(evening).get(at()).text
    after = print_morning(evening.folder, evening.out.parent / "m.pdf", NOW, plan.day).points.decisions
    assert len(after) == asked - 1
    assert about not in {one.key for one in after}


def test_a_decision_names_the_side_of_its_tray(evening: Desk) -> None:
    plan = plan_of(evening)
    conflict = next(one for one in plan.conflicts if one.remedies)
    sided = replace(conflict, side=Side.LEFT)
    found = Lookup(replace(plan, clusters=each_conflict(plan.clusters, lambda one: sided if one is conflict else one)))
    assert matter_of(found, conflict_key(sided)).endswith(f": {found.tray(conflict.tray)}, left")


def test_the_form_shows_the_last_word_and_can_open_it_again(evening: Desk) -> None:
    about = short_conflict(evening)
    tell(evening, about, way="other", other="both surgeons agreed to 13:20", told="ward 4", by="co")
    page = client_of(evening).get(at("decisions/of"), params={"about": about}).text
    fields = fields_of(page)
    assert (fields["way"], fields["other"], fields["told"]) == ("other", "both surgeons agreed to 13:20", "ward 4")
    assert fields["by"] == ""  # each word is signed anew
    tell(evening, about, way="", by="mk")
    last = carts_told(evening.folder, plan_of(evening).day).decided[about]
    assert (last.decided, last.told, last.by) == ("", "ward 4", "mk")


@pytest.mark.parametrize(
    ("said", "says"),
    [
        ({"way": "0", "by": ""}, "who decided"),
        ({"way": "other", "other": " ", "by": "co"}, "what else was decided"),
        ({"way": "", "told": "", "by": "co"}, "enter what was decided, or who was informed"),
        ({"way": "77", "by": "co"}, "no longer there"),
        ({"way": "²", "by": "co"}, "no longer there"),
    ],
)
def test_a_word_that_says_nothing_is_not_kept(evening: Desk, said: dict[str, str], says: str) -> None:
    about = short_conflict(evening)
    assert says in tell(evening, about, **said)
    assert not carts_told(evening.folder, plan_of(evening).day).decided


LATER = NOW + timedelta(minutes=95)  # the lists were made at NOW, Wed 25 Nov 18:00


@pytest.mark.parametrize(
    ("typed", "wall"),
    [("19:10", (19, 10)), ("7:10 pm", (19, 10)), ("1910", (19, 10)), ("18:00", (18, 0)), ("2026-11-25 19:35", (19, 35)),
     ("", (19, 35))],
)  # fmt: skip
def test_when_somebody_was_informed_is_typed_as_people_type_it_and_is_now_where_nothing_is_typed(
    evening: Desk, typed: str, wall: tuple[int, int]
) -> None:
    about, plan = short_conflict(evening), plan_of(evening)
    said = Said(about=about, decided="wait", told="ward 4", by="co", told_at=typed)
    at_wall = tell_decision(evening.folder, plan.day, said, LATER).told_at
    assert at_wall is not None
    local = plan.settings.site_clock.wall(at_wall)
    assert (local.date(), local.hour, local.minute) == (NOW.date(), *wall)


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("21:00", "informed at 21:00: that time is still to come, it is 19:35 now; did you mean 19:35?"),
        ("17:30", "it was not known before Wed 25 Nov 18:00, when it was first on the lists; did you mean 18:00?"),
        ("7:10", "it was not known before Wed 25 Nov 18:00, when it was first on the lists; did you mean 19:10?"),
        ("2026-11-26 19:00", "that time is still to come, it is 19:35 now; did you mean 19:35?"),
        ("19", "expected a time of day as 07:30, or nothing for now; did you mean 19:00?"),
        ("at supper", "expected a time of day as 07:30, or nothing for now"),
    ],
)
def test_a_time_of_informing_that_cannot_be_is_refused_with_the_nearest(evening: Desk, typed: str, says: str) -> None:
    about, plan = short_conflict(evening), plan_of(evening)
    said = Said(about=about, decided="wait", told="ward 4", by="co", told_at=typed)
    with pytest.raises(WrongUse, match=re.escape(says)):
        tell_decision(evening.folder, plan.day, said, LATER)
    with pytest.raises(WrongUse, match="enter who was informed at"):
        tell_decision(evening.folder, plan.day, replace(said, told=""), LATER)
    assert not carts_told(evening.folder, plan.day).decided


def test_a_time_of_informing_stays_when_more_is_said_later_and_is_new_with_somebody_new(evening: Desk) -> None:
    about, plan = short_conflict(evening), plan_of(evening)
    first = Said(about=about, decided="", told="ward 4", by="co", told_at="18:20")

    def told_at(said: Said) -> str:
        at = tell_decision(evening.folder, plan.day, said, LATER).told_at
        return plan.settings.site_clock.hhmm(at) if at else ""

    assert told_at(first) == "18:20"
    assert told_at(replace(first, decided="wait", told_at="")) == "18:20"
    assert told_at(replace(first, decided="wait", told_at="18:05")) == "18:05", "a slip is put right"
    assert told_at(replace(first, decided="wait", told="Dr. Quill", told_at="")) == "19:35"


def test_a_refused_decision_keeps_what_was_typed_but_nothing_private(evening: Desk) -> None:
    about = short_conflict(evening)
    typed = {"way": "other", "other": "wait for it", "told": "ward 4", "told_at": "12:00", "by": "co"}
    page = tell(evening, about, **typed)
    assert "Not recorded:</strong> informed at 12:00: it was not known before" in page
    assert {name: fields_of(page)[name] for name in typed} == typed
    for private in ({"told": "Mr. Smith, MRN 4471902", "told_at": ""}, {"told_at": "Mr. Smith, MRN 4471902"}):
        page = tell(evening, about, **typed | private)
        assert "seems to contain" in page
        assert "4471902" not in page
    page = tell(evening, about, **typed | {"told_at": "18:00"})
    assert "informed: ward 4, Wed 25 Nov 18:00" in page
    sheet = print_morning(evening.folder, evening.out.parent / "m.pdf", NOW, plan_of(evening).day)
    assert about not in {one.key for one in sheet.points.decisions}


def test_an_unknown_matter_is_named_with_the_nearest(evening: Desk) -> None:
    plan, about = plan_of(evening), short_conflict(evening)
    said = Said(about=f"{about}x", decided="a", told="", by="co")
    with pytest.raises(WrongUse, match=re.escape(f"did you mean {about}")):
        tell_decision(evening.folder, plan.day, said, NOW)
    assert client_of(evening).get(at("decisions/of"), params={"about": "short/x/y"}).status_code == 404


def without_stock(desk: Desk) -> Desk:
    """The evening with an item gone from the shelves of which much is wanted, built again."""
    plan = plan_of(desk)
    wanted = [line.need.thing for cart in plan.carts for line in cart.sundries if line.picks]
    gone = max(sorted(set(wanted)), key=wanted.count)
    lots = desk.folder / "Lots.csv"
    rows = lots.read_text(encoding="utf-8-sig").splitlines(keepends=True)
    lots.write_text("".join(row for row in rows if gone not in row.split(",")), encoding="utf-8")
    build(desk)
    return desk


def test_a_shortage_is_decided_and_told_like_a_conflict_and_a_move_that_has_arrived_is_seen(evening: Desk) -> None:
    conflict, number, edit = next(
        (one, str(n), remedy.edits[0])
        for one in plan_of(evening).conflicts
        for n, remedy in enumerate({remedy.text: remedy for remedy in one.remedies}.values())
        if [edit.kind for edit in remedy.edits] == [RemedyKind.SHIFT]
    )
    assert edit.start is not None
    page = tell(evening, conflict_key(conflict), way=number, told="ward 4", by="co")
    assert page.count("not in the schedule yet") == 2, "among the open things, to be entered, and among the decided"
    assert "informed: ward 4, Wed 25 Nov 18:00" in page
    book = openpyxl.load_workbook(evening.folder / "schedule.xlsx")
    row = next(row for row in book["Schedule"].iter_rows(min_row=2) if row[0].value == edit.case)
    row[3].value = plan_of(evening).settings.site_clock.wall(edit.start).time()
    book.save(evening.folder / "schedule.xlsx")
    desk = without_stock(evening)
    page = client_of(desk).get(at("decisions")).text
    assert "in the schedule since revision 2" in page
    assert "TO SCHEDULE" not in page
    assert conflict_key(conflict) not in conflicts_by_key(plan_of(desk))
    plan = plan_of(desk)
    short = next(iter(short_items(plan).values()))
    assert "NO STOCK" in client_of(desk).get(at("decisions")).text
    tell(desk, short.about, way="other", other="store brings it at 06:00", told="Dr. Quill", by="co")
    with open_state(state_path(desk.folder)) as state:
        known = what_is_known(state, plan.day)
    assert known.decided[short.about].decided == "store brings it at 06:00"
    points = print_morning(desk.folder, desk.out.parent / "m.pdf", NOW, plan.day).points.missing
    assert {p.said.told for p in points if p.said} == {"Dr. Quill"}


def cancelled(evening: Desk) -> Desk:
    """The evening after a built cart's case was cancelled."""
    return changed_once(evening, "cancelled evening", cancel)


def cancel(desk: Desk) -> None:
    """The case of a built cart is cancelled; built again."""
    cart = plan_of(desk).carts[0]
    number = cart.case.number
    assert tell_by_scans(desk.folder, [f"CART {number}", "BY mk", "DONE"], NOW, plan_of(desk).day).kept
    book = openpyxl.load_workbook(desk.folder / "schedule.xlsx")
    sheet = book["Schedule"]
    for row in range(sheet.max_row, 1, -1):
        if sheet.cell(row, 1).value == number:
            sheet.delete_rows(row)
    book.save(desk.folder / "schedule.xlsx")
    with without_remedies():
        build(desk)


def test_what_was_put_back_is_told_and_can_be_taken_back(evening: Desk) -> None:
    desk = cancelled(evening)
    client, day = client_of(desk), plan_of(desk).day
    waiting = put_backs_told(desk.folder, day)
    assert len(waiting) > 3
    assert f"{len(waiting)} to put back" in client.get(at("carts")).text
    page = client.get(at("put-backs")).text
    assert page.count('type="checkbox"') == len(waiting)
    one_set = next(one.set_id for one in waiting if one.set_id)
    tray = next(s.tray for s in plan_of(desk).sets if s.id == one_set)
    name = next(t.name for t in plan_of(desk).trays if t.id == tray)
    assert f'>{name}</label><br><span class="code faint">{one_set}<' in page
    unlisted = {one.thing for one in waiting if not one.set_id} - {item.id for item in plan_of(desk).items}
    assert unlisted, "something that no list of the new plan names"
    site = load_site(desk.folder, NOW)[1]
    names = {one.id: one.name for one in site.items.values()} | {one.id: one.name for one in site.packs.values()}
    assert [thing for thing in unlisted if f">{names[thing]}</label>" not in unescape(page)] == []
    two = [str(one.id) for one in waiting[:2]]
    answer = client.post(at("put-backs"), data={"token": DOOR.token, "by": "QX", "id": two})
    assert answer.status_code == 303
    done = [one for one in put_backs_told(desk.folder, day) if one.done_at]
    assert [(str(one.id), one.done_by) for one in done] == [(one, "QX") for one in two]
    assert "2 lines recorded" in client.get(answer.headers["location"]).text
    again = client.post(at("put-backs"), data={"token": DOOR.token, "by": "mk", "id": two[0]})
    assert again.status_code == 303
    assert {one.done_by for one in put_backs_told(desk.folder, day) if one.done_at} == {"QX"}
    client.post(at("put-backs/reopen"), data={"token": DOOR.token, "id": two[0]})
    assert sum(one.done_at is None for one in put_backs_told(desk.folder, day)) == len(waiting) - 1


@pytest.mark.parametrize(
    ("form", "says"),
    [
        ({"by": "QX"}, "tick what"),
        ({"by": "QX", "id": "9999999"}, "among the items to put back"),
        ({"by": "QX", "id": "1; DROP TABLE put_back"}, "among the items to put back"),
        ({"by": "QX", "id": "²"}, "among the items to put back"),
        ({"by": " ", "id": "1"}, "who put it back"),
    ],
)
def test_a_put_back_that_is_none_is_refused(evening: Desk, form: dict[str, str], says: str) -> None:
    answer = client_of(evening).post(at("put-backs"), data={"token": DOOR.token} | form)
    assert answer.status_code == 422
    assert says in answer.text


def test_a_put_back_of_another_day_is_not_taken_for_one_of_this(evening: Desk) -> None:
    desk = cancelled(evening)
    day = plan_of(desk).day
    one = put_backs_told(desk.folder, day)[0]
    with pytest.raises(WrongUse, match="among the items to put back"):
        tell_put_back(desk.folder, day.replace(day=day.day + 1), [one.id], "QX", NOW)
    assert put_backs_told(desk.folder, day)[0].done_at is None


def test_before_the_first_build_there_is_nothing_to_decide_or_put_back(fresh: Desk) -> None:
    client = client_of(fresh)
    assert "No lists are built yet" in client.get(at("decisions")).text
    assert "Nothing to put back" in client.get(at("put-backs")).text
    assert client.get(at("decisions/of"), params={"about": "x"}).status_code == 404
    assert client.post(at("put-backs"), data={"token": DOOR.token, "id": "1", "by": "x"}).status_code == 422


def test_a_form_about_what_is_no_longer_there_says_so_and_that_nothing_was_kept(evening: Desk) -> None:
    """It said that the page does not exist, to somebody who had just filled it in."""
    client = client_of(evening)
    for page, asked in (("decisions/of", {"about": "short/x/y"}), ("carts/case", {"case": "C-GONE"})):
        answer = client.post(at(page), params=asked, data={"token": DOOR.token, "by": "QX"})
        assert answer.status_code == 404
        assert "What this form is about is no longer there" in answer.text
        assert "Nothing was kept" in answer.text
