"""The table Codes: what the codes of another system mean here."""

from __future__ import annotations

from picklist.inputs.known_ids import fold
from picklist.inputs.site_reader import SiteReader
from picklist.model.codes import Code, Means
from picklist.tables.nearest import Candidates
from picklist.tables.rows import Row
from picklist.tables.schema import BY_NAME, SIDE_ALSO

REFERS = {Means.ROOM: "Rooms", Means.SURGEON: "Staff", Means.TEAM: "Staff", Means.PROCEDURE: "Procedures"}
SAYS_ALL = {Means.CASE_NUMBER, Means.NOTHING}
ROLES = frozenset({"AIP-4", "participant.type"})
WORDS = {
    Means.SIDE: BY_NAME["Schedule"].column("side").choices,
    Means.STATUS: BY_NAME["Schedule"].column("status").choices,
}


def read_codes(reader: SiteReader) -> tuple[Code, ...]:
    """The codes whose row can be used. Of two rows for one code that differ, neither is used."""
    found: dict[tuple[str, ...], Code | None] = {}
    rows: dict[tuple[str, ...], Row] = {}
    for row in reader.rows("Codes"):
        if row.bad:
            continue
        code = _code(reader, row)
        key = tuple(fold(str(row.values.get(name) or "")) for name in ("code", "field", "system"))
        before = rows.setdefault(key, row)
        if before is not row and found[key] != code:
            message = "this code is in two rows that say different things; neither counts"
            reader.doubled(before.where("code"), row, "code", message, "each code of a field and system once")
            code = None
        found[key] = code
    return tuple(code for code in found.values() if code is not None)


def _code(reader: SiteReader, row: Row) -> Code | None:
    fields, _ = reader.fields(row, "Codes", Code)
    value, wrong = _value(reader, row, fields["means"])
    return None if wrong else Code(**fields | {"value": value, "where": row.where("code")})


def _value(reader: SiteReader, row: Row, means: Means) -> tuple[str, bool]:
    """The value as it is spelled here, and whether something is wrong with it."""
    written = row.values.get("value") or ""
    if means in SAYS_ALL:
        return "", False
    if not written:
        if means in (Means.SURGEON, Means.TEAM) and row.values["field"] in ROLES:
            return "", False
        message = f"this cell is empty, and the code means a {means}"
        reader.ledger.report("empty cell", row.where("value"), message, expected=f"which {means}")
        return "", True
    if means in REFERS:
        value, causes = reader.refer(row, "value", REFERS[means])
        return value, bool(causes)
    words = WORDS.get(means)
    if words is None:
        return written, False
    value = dict(SIDE_ALSO).get(fold(written), fold(written)) if means is Means.SIDE else fold(written)
    if value in words:
        return value, False
    message, nearest = "this is not one of the words that are allowed here", Candidates(words).nearest(written)
    reader.wrong(row, "value", "not a choice", message, expected=", ".join(words), nearest=nearest)
    return "", True
