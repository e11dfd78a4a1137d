"""The first evening on the page: a made-up hospital or blank workbooks in an empty folder."""

from __future__ import annotations

from starlette.responses import Response

from picklist.server.visit import Visit
from picklist.tasks.new_site import make_blank, make_demo


def write_demo(visit: Visit) -> Response:
    """Write the made-up hospital into the folder."""
    desk = visit.desk
    make_demo(desk.folder, desk.now())
    visit.note("A small made-up hospital with cases tomorrow is in the folder. Build its lists.")
    return visit.go()


def write_blank_workbooks(visit: Visit) -> Response:
    """Write blank workbooks into the folder."""
    desk = visit.desk
    files = make_blank(desk.folder, desk.now())
    names = " and ".join(path.name for path in files)
    visit.note(f"{names} are in the folder. Replace their example lines by your own.")
    return visit.go("input")
