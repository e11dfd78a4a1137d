"""What goes out of the site whole, as one file to save: records, calendars; and the reference of all tables."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

from starlette.responses import Response

from picklist.server.visit import Visit, to_save
from picklist.tasks.exports import write_calendars, write_records
from picklist.tasks.new_site import describe_tables

STARTED = (1980, 1, 1, 0, 0, 0)  # of every file in an archive, so that equal contents make equal bytes


def send_records(visit: Visit) -> Response:
    """All that is recorded, as CSV and JSON."""
    out = visit.desk.new_place() / "records"
    write_records(visit.desk.folder, out)
    return zipped(out, f"{_site(visit)} records")


def send_calendars(visit: Visit) -> Response:
    """The deadlines as calendars: department, coordinator, rooms."""
    out = visit.desk.new_place() / "calendars"
    write_calendars(visit.desk.folder, out, visit.desk.now())
    return zipped(out, f"{_site(visit)} calendars")


def show_tables(visit: Visit) -> Response:
    """What goes into each table and column."""
    return visit.show("tables", "input", text=describe_tables())


def send_schema(_visit: Visit) -> Response:
    """A JSON schema of tables, settings and forms, for other programs."""
    return to_save(describe_tables(as_json=True), "picklist-tables.schema.json", "application/json")


def zipped(folder: Path, name: str) -> Response:
    """The files of a folder as one archive to save."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in sorted(folder.rglob("*")):
            if path.is_file() and not path.name.startswith("."):
                inside = zipfile.ZipInfo(path.relative_to(folder).as_posix(), STARTED)
                archive.writestr(inside, path.read_bytes(), zipfile.ZIP_DEFLATED)
    return to_save(out.getvalue(), f"{name}.zip", "application/zip")


def _site(visit: Visit) -> str:
    return visit.desk.folder.resolve().name
