"""FHIR appointments of R4 and R5 are read in one shape, and held to the standard's invariants."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest

from picklist.messages.events import Answer, Event
from picklist.messages.take import take_fhir
from picklist.problems import Severity
from tests.messages.words import CODES, DOOR, code, kinds, only_row, schedule

# The example "appointment-example" of HL7 FHIR R4 (hl7.org/fhir/R4/appointment-example.json; FHIR is published under
# CC0, from memory), shortened to what could be read. It has no room of operations and no order.
PUBLISHED_R4: dict[str, Any] = {
    "resourceType": "Appointment",
    "id": "example",
    "text": {
        "status": "generated",
        "div": '<div xmlns="http://www.w3.org/1999/xhtml">Brian MRI results discussion</div>',
    },
    "status": "booked",
    "serviceType": [{"coding": [{"code": "52", "display": "General Discussion"}]}],
    "reasonReference": [{"reference": "Condition/example", "display": "Severe burn of left ear"}],
    "priority": 5,
    "description": "Discussion on the results of your recent MRI",
    "start": "2013-12-10T09:00:00Z",
    "end": "2013-12-10T11:00:00Z",
    "created": "2013-10-10",
    "comment": "Further expand on the results of the MRI and determine the next actions that may be appropriate.",
    "basedOn": [{"reference": "ServiceRequest/myringotomy"}],
    "participant": [
        {"actor": {"reference": "Patient/example", "display": "Peter James Chalmers"}, "status": "accepted"},
        {
            "type": [{"coding": [{"code": "ATND"}]}],
            "actor": {"reference": "Practitioner/example", "display": "Dr Adam Careful"},
            "status": "accepted",
        },
        {"actor": {"reference": "Location/1", "display": "South Wing, second floor"}, "status": "accepted"},
    ],
}

R4: dict[str, Any] = {
    "resourceType": "Bundle",
    "type": "collection",
    "entry": [
        {
            "fullUrl": "https://ehr.example.org/fhir/Appointment/A77",
            "resource": {
                "resourceType": "Appointment",
                "id": "A77",
                "meta": {"lastUpdated": "2026-11-25T12:00:00-06:00"},
                "status": "booked",
                "identifier": [
                    {"system": "urn:mrn", "value": "4829130"},
                    {"system": "urn:cases", "value": "C-77"},
                ],
                "basedOn": [{"reference": "ServiceRequest/R1"}],
                "start": "2026-11-26T13:30:00Z",
                "end": "2026-11-26T09:00:00-06:00",
                "participant": [
                    {"actor": {"reference": "Patient/P1", "display": "WRENFIELD, Oda"}, "status": "accepted"},
                    {"actor": {"reference": "PractitionerRole/PR1"}, "status": "accepted"},
                    {"actor": {"reference": "Location/B1"}, "status": "accepted"},
                ],
            },
        },
        {
            "resource": {
                "resourceType": "ServiceRequest",
                "id": "R1",
                "code": {"coding": [{"code": "29881", "display": "Knee of Oda"}]},
                "bodySite": [{"coding": [{"code": "right"}]}],
            }
        },
        {"resource": {"resourceType": "Location", "id": "B1", "partOf": {"reference": "Location/L1"}}},
        {"resource": {"resourceType": "Location", "id": "L1", "identifier": [{"system": "urn:rooms", "value": "OR1"}]}},
        {
            "resource": {
                "resourceType": "PractitionerRole",
                "id": "PR1",
                "practitioner": {"reference": "Practitioner/S1"},
            }
        },
        {"resource": {"resourceType": "Practitioner", "id": "S1", "identifier": [{"value": "Q77"}]}},
        {"resource": {"resourceType": "Patient", "id": "P1", "name": [{"family": "WRENFIELD"}]}},
    ],
}

MEANINGS = (
    code("Location", "OR1", "room", "OR 1"),
    code("Practitioner", "Q77", "surgeon", "S01"),
    code("ServiceRequest", "29881", "procedure", "KNEE"),
    code("serviceType", "29881", "procedure", "KNEE"),
    code("HealthcareService", "29881", "procedure", "KNEE"),
)


def changed(**changes: Any) -> dict[str, Any]:
    """The bundle with other elements of its appointment; None takes one out."""
    bundle = json.loads(json.dumps(R4))
    resource = bundle["entry"][0]["resource"]
    resource.update(changes)
    for name in [name for name, value in resource.items() if value is None]:
        del resource[name]
    return bundle  # type: ignore[no-any-return]


def events(data: dict[str, Any]) -> list[Event]:
    return [one.event for one in take_fhir(json.dumps(data), DOOR) if one.event is not None]


def row(data: dict[str, Any]) -> dict[str, object]:
    return only_row(*events(data), codes=MEANINGS)


def test_that_a_bundle_becomes_a_row_with_the_sites_wall_times() -> None:
    found = row(R4)
    assert {name: str(found[name]) for name in ("case", "day", "start", "room", "minutes", "surgeon", "status")} == {
        "case": "A77",
        "day": "2026-11-26",
        "start": "07:30:00",
        "room": "OR 1",
        "minutes": "90",
        "surgeon": "S01",
        "status": "planned",
    }
    assert (found["procedures"], found["side"]) == (("KNEE",), ("right",))
    assert schedule(*events(R4), codes=MEANINGS)[1] == ()


def test_that_the_shape_of_r5_says_the_same() -> None:
    r5 = changed(
        basedOn=None,
        serviceType=[{"concept": {"coding": [{"code": "29881"}]}}],
        note=[{"text": "for Oda"}],
        participant=[
            {"actor": {"reference": "https://ehr.example.org/fhir/Location/L1/_history/2"}, "required": True},
            {"actor": {"type": "Practitioner", "identifier": {"value": "Q77"}}, "status": "accepted"},
        ],
    )
    r5["entry"][3]["fullUrl"] = "https://ehr.example.org/fhir/Location/L1"
    found = row(r5)
    assert (found["room"], found["surgeon"], found["procedures"]) == ("OR 1", "S01", ("KNEE",))
    service = changed(basedOn=None, serviceType=[{"reference": {"reference": "HealthcareService/H1"}}])
    service["entry"].append(
        {"resource": {"resourceType": "HealthcareService", "id": "H1", "type": [{"coding": [{"code": "29881"}]}]}}
    )
    assert row(service)["procedures"] == ("KNEE",)


def test_that_contained_things_and_uuids_are_found() -> None:
    contained = changed(
        id=None,
        contained=[{"resourceType": "Location", "id": "here", "identifier": [{"value": "OR1"}]}],
        participant=[
            {"actor": {"reference": "#here"}, "status": "accepted"},
            {"actor": {"reference": "urn:uuid:11111111-2222-4333-8444-555555555555"}, "status": "accepted"},
        ],
    )
    contained["entry"][0]["fullUrl"] = "urn:uuid:99999999-2222-4333-8444-555555555555"
    contained["entry"][5]["fullUrl"] = "urn:uuid:11111111-2222-4333-8444-555555555555"
    found = row(contained)
    assert (found["room"], found["surgeon"]) == ("OR 1", "S01")


def test_that_an_order_that_is_not_in_the_bundle_leaves_no_half_of_the_procedures() -> None:
    missing = changed(basedOn=[{"reference": "ServiceRequest/R1"}, {"reference": "urn:uuid:0d1f"}])
    assert row(missing)["procedures"] == ()
    assert [one.kind for one in schedule(*events(missing), codes=MEANINGS)[1]] == ["no code"]


def test_that_only_the_systems_in_codes_give_a_case_number() -> None:
    door = replace(DOOR, id_systems=frozenset({"urn:cases"}))
    (one,) = take_fhir(json.dumps(R4), door)
    assert one.event is not None
    assert one.event.number == "C-77"
    assert "4829130" not in repr(one.event)


@pytest.mark.parametrize(
    ("change", "kind"),
    [
        ({"participant": [{"status": "accepted"}]}, "app-1"),
        ({"end": None}, "app-2"),
        ({"start": None, "end": None}, "app-3"),
        ({"cancelationReason": {"text": "ill"}}, "app-4"),
        ({"cancellationReason": {"text": "ill"}}, "app-4"),
        ({"start": "2026-11-26T20:00:00Z"}, "app-5"),
        ({"start": "2026-11-26T07:30:00"}, "not a time"),
    ],
)
def test_that_each_invariant_of_the_standard_is_named(change: dict[str, Any], kind: str) -> None:
    assert kind in kinds(schedule(*events(changed(**change)), codes=MEANINGS)[1])


def test_that_what_may_lack_its_times_is_no_problem() -> None:
    for status in ("proposed", "cancelled", "waitlist"):
        found = changed(status=status, start=None, end=None, cancelationReason=None)
        assert kinds(schedule(*events(found), codes=MEANINGS)[1]) <= {"not booked"}


@pytest.mark.parametrize(
    ("status", "counts"),
    [("arrived", "planned"), ("checked-in", "planned"), ("fulfilled", "done"), ("noshow", "cancelled")],
)
def test_that_each_status_has_its_place(status: str, counts: str) -> None:
    assert row(changed(status=status))["status"] == counts


def test_that_a_word_that_is_no_status_is_refused_with_its_place() -> None:
    (one,) = take_fhir(json.dumps(changed(status="HOLDX")), DOOR)
    assert (one.answer, one.place) == (Answer.ERROR, "entry 1, status")


def test_that_a_role_with_its_own_codes_leads_to_its_person() -> None:
    """FHIR R4 and R5: PractitionerRole.code is a list (hl7.org/fhir/R4/practitionerrole.html), from memory."""
    bundle = changed()
    role = next(one["resource"] for one in bundle["entry"] if one["resource"]["resourceType"] == "PractitionerRole")
    role["code"] = [{"coding": [{"code": "surgeon"}]}]
    assert row(bundle)["surgeon"] == "S01"


def test_that_a_declined_surgeon_counts_as_not_there() -> None:
    bundle = changed()
    bundle["entry"][0]["resource"]["participant"][1]["status"] = "declined"
    rows, problems = schedule(*events(bundle), codes=MEANINGS)
    assert (rows[0]["surgeon"], kinds(problems)) == ("", {"declined"})


def test_that_the_newest_by_its_own_time_counts_and_a_deletion_removes() -> None:
    later = changed(meta={"lastUpdated": "2026-11-25T13:00:00-06:00"}, start="2026-11-26T14:00:00Z")
    for order in ((R4, later), (later, R4)):
        both = [one for bundle in order for one in events(bundle)]
        assert str(only_row(*both, codes=MEANINGS)["start"]) == "08:00:00"
    gone = {"resourceType": "Bundle", "entry": [{"request": {"method": "DELETE", "url": "Appointment/A77"}}]}
    assert schedule(*events(R4), *events(gone), codes=MEANINGS)[0] == []


# The examples "appointment-example", "appointment-example2doctors" and "appointment-example-request" of FHIR R5, and
# those that fail an invariant (HL7/fhir, source/appointment and its invariant-tests; FHIR is published under CC0,
# from memory), shortened.
PUBLISHED_R5: dict[str, Any] = {
    "resourceType": "Appointment",
    "id": "example",
    "text": {"status": "generated", "div": '<div xmlns="http://www.w3.org/1999/xhtml">Brian MRI results</div>'},
    "status": "booked",
    "class": [{"coding": [{"code": "AMB", "display": "ambulatory"}]}],
    "serviceType": [{"concept": {"coding": [{"code": "52", "display": "General Discussion"}]}}],
    "reason": [{"reference": {"reference": "Condition/example", "display": "Severe burn of left ear"}}],
    "description": "Discussion on the results of your recent MRI",
    "start": "2013-12-10T09:00:00Z",
    "end": "2013-12-10T11:00:00Z",
    "created": "2013-10-10",
    "note": [{"text": "Further expand on the results of the MRI"}],
    "patientInstruction": [{"concept": {"text": "Please avoid excessive travel before this appointment"}}],
    "basedOn": [{"reference": "ServiceRequest/myringotomy"}],
    "subject": {"reference": "Patient/example", "display": "Peter James Chalmers"},
    "participant": [
        {
            "actor": {"reference": "Patient/example", "display": "Peter James Chalmers"},
            "required": True,
            "status": "accepted",
        },
        {
            "type": [{"coding": [{"code": "ATND"}]}],
            "actor": {"reference": "Practitioner/example", "display": "Dr Adam Careful"},
            "required": True,
            "status": "accepted",
        },
        {
            "actor": {"reference": "Location/1", "display": "South Wing, second floor"},
            "required": True,
            "status": "accepted",
        },
    ],
}
TWO_DOCTORS: dict[str, Any] = PUBLISHED_R5 | {
    "id": "2docs",
    "description": "Discussion about Peter Chalmers MRI results",
    "start": "2013-12-09T09:00:00Z",
    "end": "2013-12-09T11:00:00Z",
    "participant": [
        {"actor": {"reference": "Practitioner/example", "display": "Dr Adam Careful"}, "status": "accepted"},
        {"actor": {"reference": "Practitioner/f202", "display": "Luigi Maas"}, "status": "accepted"},
        {"actor": {"display": "Phone Call"}, "status": "accepted"},
    ],
}
REQUEST: dict[str, Any] = {name: value for name, value in PUBLISHED_R5.items() if name not in ("start", "end")} | {
    "id": "examplereq",
    "identifier": [{"system": "http://example.org/sampleappointment-identifier", "value": "123"}],
    "status": "proposed",
    "requestedPeriod": [{"start": "2016-06-02", "end": "2016-06-09"}],
}
PUBLISHED = {"R4": PUBLISHED_R4, "R5": PUBLISHED_R5, "two doctors": TWO_DOCTORS, "request": REQUEST}
NAMES = ("Chalmers", "Careful", "Maas", "South Wing", "Brian", "burn", "MRI", "travel")


def moved(resource: dict[str, Any]) -> dict[str, Any]:
    """A published example on the day of these tests."""
    text = json.dumps(resource).replace("2013-12-10", "2026-11-26").replace("2013-12-09", "2026-11-26")
    found: dict[str, Any] = json.loads(text)
    return found


@pytest.mark.parametrize("name", PUBLISHED)
def test_that_the_published_examples_are_read_and_name_nobody(name: str) -> None:
    found = events(moved(PUBLISHED[name]))
    rows, problems = schedule(*found, codes=CODES)
    assert len(found) == 1
    if name == "request":
        assert (rows, kinds(problems) - {"no time"}) == ([], {"not booked"})
    else:
        assert [(str(row["start"]), row["minutes"]) for row in rows] == [("03:00:00", 120)]
        assert "unknown code" in kinds(problems)
    assert [one for one in NAMES if one in repr((rows, problems, found))] == []


@pytest.mark.parametrize(
    ("invariant", "change"),
    [
        ("app-2", {"status": "cancelled", "start": None, "cancellationDate": "2013-10-11"}),
        ("app-3", {"start": None, "end": None}),
        ("app-5", {"end": "2025-12-10T11:00:00Z"}),
    ],
)
def test_that_the_published_examples_that_must_fail_do(invariant: str, change: dict[str, Any]) -> None:
    """app-2.f1.fail, app-3.f1.fail and app-5.f1.fail of R5; app-6 is a warning there, and app-7 of recurring ones."""
    failing = {name: value for name, value in (moved(PUBLISHED_R5) | change).items() if value is not None}
    assert invariant in kinds(schedule(*events(failing), codes=CODES)[1])


def lines_of(bundle: dict[str, Any]) -> str:
    return "".join(json.dumps(entry["resource"]) + "\n" for entry in bundle["entry"])


def test_that_resources_line_by_line_are_one_bundle() -> None:
    """NDJSON, as FHIR's bulk export writes it: a resource a line, which may refer to one of another line."""
    (one,) = [taken.event for taken in take_fhir(lines_of(R4), DOOR)]
    assert one is not None
    assert only_row(one, codes=MEANINGS) == row(R4)


def test_that_a_line_that_cannot_be_read_is_refused_alone() -> None:
    broken, good = take_fhir(f"{json.dumps(R4)}\n{{broken", DOOR)[::-1]
    assert (broken.answer, broken.place) == (Answer.ERROR, "line 2")
    assert good.event is not None
    (whole,) = take_fhir('{\n"resourceType": "Bundle",\n', DOOR)  # one value over several lines, cut off
    assert (whole.answer, whole.place) == (Answer.ERROR, "")


def test_that_xml_is_refused_with_what_to_do() -> None:
    (one,) = take_fhir('<?xml version="1.0"?><Bundle xmlns="http://hl7.org/fhir"/>', DOOR)
    assert (one.answer, "_format=json" in one.why) == (Answer.ERROR, True)


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"id": "A-4829130"}, "entry 1, id"),
        ({"identifier": [{"system": "urn:cases", "value": "4829130"}]}, "entry 1, identifier"),
    ],
)
def test_that_a_number_made_of_the_patients_is_refused_until_numbers_are_hidden(
    change: dict[str, Any], place: str
) -> None:
    bundle = changed(**change)
    bundle["entry"][6]["resource"]["identifier"] = [{"system": "urn:mrn", "value": "4829130"}]
    door = replace(DOOR, id_systems=frozenset({"urn:cases"}))
    (one,) = take_fhir(json.dumps(bundle), door)
    assert (one.answer, one.place) == (Answer.ERROR, place)
    (hidden,) = take_fhir(json.dumps(bundle), replace(door, hide_ids=True))
    assert hidden.answer is Answer.ACCEPT
    assert "4829130" not in repr(hidden)


@pytest.mark.parametrize(
    "change",
    [
        {"participant": [{"actor": {"type": "Patient", "identifier": {"value": "4829130"}}, "status": "accepted"}]},
        {"subject": {"reference": "Patient/4829130"}},  # R5 (hl7.org/fhir/R5/appointment.html), from memory
        {"subject": {"type": "Patient", "identifier": {"system": "urn:mrn", "value": "4829130"}}},
    ],
)
def test_that_a_patients_number_is_known_however_the_patient_is_named(change: dict[str, Any]) -> None:
    appointment = changed(id="A-4829130", **change)["entry"][0]["resource"]
    (one,) = take_fhir(json.dumps(appointment), DOOR)
    assert (one.answer, one.place) == (Answer.ERROR, "entry 1, id")
    assert "4829130" not in repr(one)


def test_that_a_patients_number_is_known_from_the_order() -> None:
    bundle = changed(id="A-4829130")
    order = next(one["resource"] for one in bundle["entry"] if one["resource"]["resourceType"] == "ServiceRequest")
    order["subject"] = {"type": "Patient", "identifier": {"value": "4829130"}}
    (one,) = take_fhir(json.dumps(bundle), DOOR)
    assert (one.answer, one.place) == (Answer.ERROR, "entry 1, id")


@pytest.mark.parametrize(
    "text", ["", "[]", "{", "<a/>", '{"resourceType": "Patient"}', '{"resourceType": "Bundle", "entry": 7}']
)
def test_that_what_is_no_bundle_is_refused(text: str) -> None:
    (one,) = take_fhir(text, DOOR)
    assert one.answer is Answer.ERROR
    assert one.why


def test_that_the_bundles_of_these_tests_have_the_shape_of_the_standard() -> None:
    """By fhir.resources: R4 by its R4B, which is the same in the elements that are read, and R5 by its R5.

    It checks the shape and that instants have their offset. It checks neither the codes of a status nor app-1 to app-5:
    those are tested above by hand, for both versions in the one reader.
    """
    of_r4 = pytest.importorskip("fhir.resources.R4B.appointment").Appointment
    of_r5 = pytest.importorskip("fhir.resources.appointment").Appointment
    for one in (PUBLISHED_R4, R4["entry"][0]["resource"]):
        of_r4.model_validate(one)
    for one in (PUBLISHED_R5, TWO_DOCTORS, REQUEST):
        of_r5.model_validate(one)
    of_r5.model_validate(PUBLISHED_R5 | {"status": "HOLDX", "end": "2012-12-10T11:00:00Z"})  # neither is its business


def test_that_a_participant_who_is_not_in_the_bundle_and_could_be_anybody_is_told() -> None:
    """A scrub nurse by a urn of another bundle would be missing on the list, and nothing would show it."""
    people = R4["entry"][0]["resource"]["participant"]
    missing = changed(participant=[*people, {"actor": {"reference": "urn:uuid:0d1f"}, "status": "accepted"}])
    rows, problems = schedule(*events(missing), codes=MEANINGS)
    assert rows == schedule(*events(R4), codes=MEANINGS)[0]
    assert [(one.kind, one.severity, one.cases) for one in problems] == [
        ("unknown participant", Severity.TO_FIX, ("A77",))
    ]
    assert problems[0].where.file.endswith("participant 4")


def test_that_a_patient_by_a_urn_is_known_for_one() -> None:
    bundle = changed()
    bundle["entry"][6]["fullUrl"] = "urn:uuid:0d1f"
    bundle["entry"][0]["resource"]["participant"][0]["actor"]["reference"] = "urn:uuid:0d1f"
    assert schedule(*events(bundle), codes=MEANINGS)[1] == ()


def test_that_an_entry_that_does_not_say_what_it_is_is_refused() -> None:
    nameless = changed(resourceType=None)
    assert [(one.answer, one.place) for one in take_fhir(json.dumps(nameless), DOOR)] == [
        (Answer.ERROR, "entry 1, resourceType")
    ]
