"""Staff at the table and operating rooms."""

from __future__ import annotations

from picklist.inputs.desk import Desk, causes_of, value
from picklist.model.schedule import Room, StaffMember

VITAL_OF_STAFF = ("outer glove", "under glove", "gown")


def read_staff(desk: Desk) -> dict[str, StaffMember]:
    """Staff by id; a person whose sizes cannot be read is broken."""
    made: dict[str, StaffMember] = {}
    names = desk.index("Staff")
    for one, row, again in desk.keyed("Staff", "person"):
        if again is not None:
            continue
        names.add(one, value(row, "name", ""))
        wrong = causes_of(row, *VITAL_OF_STAFF)
        if wrong:
            names.break_(one, wrong)
            continue
        made[one] = StaffMember(
            id=one,
            name=value(row, "name", one),
            role=value(row, "role", "surgeon"),
            outer_glove=value(row, "outer glove", ""),
            under_glove=value(row, "under glove", ""),
            gown=value(row, "gown", ""),
            where=row.where(),
        )
    desk.seal("Staff")
    return made


def read_rooms(desk: Desk) -> dict[str, Room]:
    """Rooms by id; without the table any room passes."""
    made: dict[str, Room] = {}
    for one, row, again in desk.keyed("Rooms", "room"):
        if again is not None:
            continue
        desk.index("Rooms").add(one)
        made[one] = Room(
            id=one,
            opens=row.values.get("opens"),
            closes=row.values.get("closes"),
            building=value(row, "building", ""),
            where=row.where(),
        )
    desk.seal("Rooms")
    return made
