"""The hospital's own export on the page: what its headers and codes mean, said once, and then taken in."""

from __future__ import annotations

from pathlib import Path

from starlette.responses import Response

from picklist import wording
from picklist.grouping import grouped
from picklist.server.form_pages import start_trying
from picklist.server.visit import NotHere, Visit
from picklist.tasks.errors import WrongUse
from picklist.tasks.own_export import (
    CHOICES,
    TAKEN_AS,
    ExportLook,
    kept_of_export,
    learn_export,
    look_at_export,
    with_codes,
)
from picklist.tasks.take_file import likely_name, plain_name

NOT_READ = "nothing"
BOTH = "day and start"
OPTIONS = (NOT_READ, BOTH, *(one for one in CHOICES if one != NOT_READ))


def start_learning(visit: Visit, file: Path) -> Response:
    """Keep a file at hand and ask what its headers mean."""
    number = visit.desk.new_file().name.removeprefix("in-")
    visit.desk.exports[number] = file
    return visit.go(f"input/export/{number}")


def show_export(visit: Visit) -> Response:
    """What each header is taken for."""
    return _shown(visit, look_at_export(visit.desk.folder, _file(visit)), "")


def learn_headers(visit: Visit) -> Response:
    """Look again with what was chosen; or write it into Export, and try the file as the schedule."""
    desk, file = visit.desk, _file(visit)
    if visit.form.get("do") == "as it is":
        return _try(visit, file.read_bytes(), likely_name(desk.folder, plain_name(file.name)))
    first = look_at_export(desk.folder, file)
    means = {one.name: _chosen(visit.form.get(f"means-{n}", NOT_READ)) for n, one in enumerate(first.columns)}
    look = look_at_export(desk.folder, file, means)
    if visit.form.get("do") != "keep":
        return _shown(visit, look, "")
    if look.lacking:
        return _shown(visit, look, f"No header means {wording.listed(look.lacking)} yet; nothing was written.")
    given = {
        (guess.header, guess.code): value
        for number, guess in enumerate(look.guesses)
        if (value := visit.form.get(f"code-{number}", "").strip())
    }
    learn_export(desk.folder, look, with_codes(look, given, sure=False), desk.now())
    return _try(visit, kept_of_export(desk.folder, look), TAKEN_AS)


def _try(visit: Visit, data: bytes, name: str) -> Response:
    """Go on to what a file would do; the one that came in is not kept, with the columns that have no meaning."""
    place = visit.desk.new_file()
    place.write_bytes(data)
    visit.desk.exports.pop(visit.path["number"]).unlink(missing_ok=True)
    return start_trying(visit, place, name)


def _file(visit: Visit) -> Path:
    file = visit.desk.exports.get(visit.path["number"])
    if file is None or not file.is_file():
        raise NotHere
    return file


def _chosen(option: str) -> tuple[str, ...]:
    if option == BOTH:
        return ("day", "start")
    if option not in OPTIONS:
        raise WrongUse("a header means something that is not in the list; choose again")
    return () if option == NOT_READ else (option,)


def _shown(visit: Visit, look: ExportLook, said: str) -> Response:
    return visit.show(
        "export",
        "input",
        number=visit.path["number"],
        name=_file(visit).name,
        dialect=", ".join(look.dialect),
        columns=look.columns,
        as_option=lambda means: BOTH if set(means) == {"day", "start"} else means[0] if means else NOT_READ,
        codes=grouped((one.header, (n, one)) for n, one in enumerate(look.guesses)),
        unknown=grouped(look.unknown),
        options=OPTIONS,
        lacking=wording.listed(look.lacking) if look.lacking else "",
        said=said,
    )
