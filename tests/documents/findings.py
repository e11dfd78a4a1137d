"""Sets, reuses, conflicts of every kind and a department's day, made by hand to go with the carts."""

from __future__ import annotations

from datetime import datetime, timedelta

from picklist.clock import shift
from picklist.model.catalogue import Item, Place, Tray
from picklist.model.conflicts import (
    BoundSet,
    Cluster,
    Conflict,
    ConflictKind,
    Edit,
    Proof,
    Remedy,
    RemedyKind,
    Saving,
)
from picklist.model.department import (
    ChanceReport,
    DepartmentRun,
    DrawnFrom,
    Help,
    Lateness,
    LatenessFrom,
    Load,
    MinutesFrom,
    ReuseChance,
    SetRun,
    StationHour,
    StepRun,
    Wait,
    WaitKind,
)
from picklist.model.plan import Cart, Plan
from picklist.model.schedule import Case, Side, StaffMember
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.supply import CaseShort, ItemShortage
from picklist.model.uses import Assignment, Deadline, Reuse, StepTime, Use, Walk
from picklist.problems import Problem, Severity, Where
from tests.documents.carts import DAY, LONG, NASTY, SETTINGS, all_carts, local, plain_case

STEPS = (("wash", "Washer", 60), ("assemble", "Assembly", 45), ("sterilize", "Sterilizer", 70), ("cool", "", 43))


def use(case: Case, tray: str, **changes: object) -> Use:
    ends = shift(case.start, case.minutes)
    fields: dict[str, object] = {
        "case": case.number,
        "tray": tray,
        "copy": 1,
        "needed": shift(case.start, -30),
        "starts": case.start,
        "ends": ends,
        "leaves_room": ends,
        "received": shift(ends, 10),
    }
    return Use(**(fields | changes))  # type: ignore[arg-type]


def walk(released: datetime) -> Walk:
    moment, made = released, []
    for step, station, minutes in STEPS:
        made.append(StepTime(step=step, station=station, begins=moment, ends=shift(moment, minutes)))
        moment = shift(moment, minutes)
    return Walk(released=released, ready=moment, steps=tuple(made))


def deadlines(needed: datetime) -> tuple[Deadline, ...]:
    def row(act: str, station: str, before: int, least: int) -> Deadline:
        return Deadline(act=act, station=station, latest=shift(needed, -before), last_resort=shift(needed, -least))

    return (
        row("out of the room", "", 228, 178),
        row("into decontamination", "Decontamination", 218, 168),
        row("start wash", "Washer", 218, 168),
        row("start assemble", "Assembly", 158, 123),
        row("start sterilize", "Sterilizer", 113, 103),
        row("start cool", "", 43, 33),
        row("on the cart", "", 0, 0),
    )


def reuse(set_id: str, tray: str, giver: Case | None, waiter: Case, **changes: object) -> Reuse:
    released = shift(giver.start, giver.minutes + 10) if giver else local("20:05", -1)
    needed = shift(waiter.start, -30)
    gone = walk(released)
    slack = int((needed - gone.ready).total_seconds() // 60)
    fields: dict[str, object] = {
        "set_id": set_id,
        "tray": tray,
        "giver": giver.number if giver else "",
        "waiter": waiter.number,
        "waiter_use": f"{waiter.number}/{tray}/1",
        "from_state": "" if giver else "at step sterilize since 20:05",
        "released": released,
        "ready": gone.ready,
        "least_ready": shift(gone.ready, -50),
        "needed": needed,
        "slack": slack,
        "least_slack": slack + 50,
        "deadlines": deadlines(needed),
        "walk": gone,
        "break_even": max(slack, 0) if giver else None,
        "break_even_percent": round(100 * max(slack, 0) / giver.minutes) if giver else None,
    }
    return Reuse(**(fields | changes))  # type: ignore[arg-type]


def later_cases() -> tuple[Case, ...]:
    return (
        plain_case("C-1081", "OR 1", "07:30", 120, procedures=("P-WRIST",), side=Side.LEFT),
        plain_case("C-1082", "OR 4", "08:00", 135, procedures=("P-WRIST",), side=Side.RIGHT),
        plain_case("C-1083", "OR 1", "11:15", 120, procedures=("P-WRIST",), side=Side.RIGHT),
        plain_case("C-1090", "OR 5", "13:30", 60, procedures=("P-GRAFT",), side=Side.LEFT),
    )


def short_conflict() -> Conflict:
    """Two wrist sets for three cases: worked example 1 of our own, not published."""
    return Conflict(
        id="K-2", kind=ConflictKind.SHORT, tray="T-WRIST", waiter="C-1083", givers=("C-1081", "C-1082"),
        set_id="WRIST-01", minutes=125,
        statement="Wrist fracture for C-1083 is 125 min short: the earlier of its two sets is ready at 12:50 and the "
        "cart must be complete at 10:45.",
        proof=Proof(
            instant=local("10:45"), overlapping=("C-1081", "C-1082", "C-1083"),
            sets=(
                BoundSet(set_id="WRIST-01", case="C-1081", until=local("12:50"), why="turnaround after C-1081"),
                BoundSet(set_id="WRIST-02", case="C-1082", until=local("13:35"), why="turnaround after C-1082"),
                BoundSet(set_id="WRIST-03", case="", until=None, why="recorded as incomplete"),
            ),
            statement="At 10:45 three uses overlap (C-1081, C-1082, C-1083) and two sets can serve: one use must go "
            "without.",
        ),
        decide_by=local("07:35"),
        remedies=(
            Remedy(edits=(Edit(kind=RemedyKind.STAND_IN, case="C-1083", stand_in="T-HAND"),),
                   text="Give C-1083 Hand fracture in place of Wrist fracture.",
                   cost="no case moves; no new conflict", minutes_moved=0, cases_touched=1, overtime=0),
            Remedy(edits=(Edit(kind=RemedyKind.SHIFT, case="C-1083", start=local("13:20")),),
                   text="Start C-1083 in OR 1 at 13:20 in place of 11:15.",
                   cost="1 case changed; 2 h 05 min moved; no new conflict",
                   minutes_moved=125, cases_touched=1, overtime=0, delays=("HIPF-01",)),
        ),
        chance_of_failing=1.0, blame="C-1081",
    )  # fmt: skip


def other_conflicts() -> tuple[Conflict, ...]:
    tight = Conflict(
        id="K-1", kind=ConflictKind.TIGHT, tray="T-HIP", waiter="C-1047", givers=("C-1041",), set_id="HIPF-01",
        minutes=12, statement="Hip replacement, femoral makes it to C-1047 with 12 min to spare; the margin is 30 min.",
        decide_by=local("10:10"), knock_on=("C-1090",), chance_of_failing=0.314, blame="C-1041",
        remedies=(Remedy(edits=(), text="Collect HIPF-01 from OR 3 at 09:40, before closure.", cost="",
                         minutes_moved=0, cases_touched=0, overtime=0),),
    )  # fmt: skip
    rush = Conflict(
        id="K-3", kind=ConflictKind.RUSH, tray="T-GRAFT", waiter="C-1090", givers=("C-1041",), set_id="GRAFT-01",
        minutes=25, statement="Graft harvest for C-1090 must save 25 min; the least minutes of its steps suffice.",
        savings=(Saving(step="assemble", station="Assembly", minutes=15), Saving(step="cool", station="", minutes=10)),
        decide_by=local("09:50"), missing="the department's word that assembly takes it first",
        proof=Proof(instant=local("13:00"), overlapping=("C-1041", "C-1090"), sets=(
            BoundSet(set_id="GRAFT-01", case="C-1041", until=local("13:25"), why="turnaround after C-1041"),),
            statement="At 13:00 two uses overlap and one set exists."),
    )  # fmt: skip
    reserve = Conflict(
        id="K-5", kind=ConflictKind.RESERVE, tray="T-BASIC", waiter="C-1060", givers=("C-1041",), set_id="BASIC-01",
        minutes=0, statement="From 08:30 to 13:10 one Basic soft tissue set is left ready; two are to be kept.",
        missing="one more set of Basic soft tissue, or a lower number to keep ready",
    )  # fmt: skip
    held = Conflict(
        id="K-4", kind=ConflictKind.CONDITIONAL, tray="T-SAW", waiter="C-1090", givers=("C-1041",), set_id="SAW-01",
        minutes=110, statement="Power saw and drill is free at 10:25 if C-1041 leaves it unopened, and 110 min short "
        "if it is opened.", depends_on="whether C-1041 opens SAW-01", decide_by=local("10:00"), chance_of_failing=0.5,
    )  # fmt: skip
    load = Conflict(
        id="K-6", kind=ConflictKind.QUEUE, tray="T-HIP", waiter="C-1047", givers=("C-1041",), set_id="HIPF-01",
        minutes=18, statement="Alone, HIPF-01 would be ready at 13:48; behind the queue at Washer it is ready at "
        "14:18.", blame="Washer: waited 30 min for machine 2",
    )  # fmt: skip
    return tight, rush, reserve, held, load


def clusters() -> tuple[Cluster, ...]:
    tight, rush, reserve, held, load = other_conflicts()
    return (
        Cluster(id="G-1", cases=("C-1081", "C-1082", "C-1083"), conflicts=(short_conflict(),)),
        Cluster(id="G-2", cases=("C-1041", "C-1047", "C-1090"), conflicts=(rush, tight, held, load)),
        Cluster(id="G-3", cases=("C-1041", "C-1060"), conflicts=(reserve,)),
    )


def step_run(step: str, station: str, arrives: datetime, wait: int, minutes: int, machine: int) -> StepRun:
    begins = shift(arrives, wait)
    waits = Wait(kind=WaitKind.MACHINE, minutes=wait, name=station, machine=machine)
    return StepRun(
        step=step, station=station, machine=machine, arrives=arrives, begins=begins, ends=shift(begins, minutes),
        waited=wait, waits=(waits,) if wait else (), load=f"{station} {machine}-1",
    )  # fmt: skip


def set_run(set_id: str, tray: str, cases: tuple[str, str], released: datetime, due: datetime | None) -> SetRun:
    """From the first of the cases to the second; what nobody waits for goes into washer 1, all else into washer 2."""
    giver, waiter = cases
    moment, made = released, []
    for number, (step, station, minutes) in enumerate(STEPS):
        machine = 2 if number == 0 and waiter else 1
        run = step_run(step, station, moment, 30 if number == 0 else 0, minutes, machine)
        made.append(run)
        moment = run.ends
    late = max(int((moment - due).total_seconds() // 60), 0) if due else 0
    return SetRun(
        set_id=set_id, tray=tray, from_case=giver, for_case=waiter, released=released, ready=moment, due=due,
        late=late, alone_ready=shift(moment, -30), steps=tuple(made),
    )  # fmt: skip


def department() -> DepartmentRun:
    runs = (
        set_run("HIPF-01", "T-HIP", ("C-1041", "C-1047"), local("10:10"), local("14:00")),
        set_run("GRAFT-01", "T-GRAFT", ("C-1041", "C-1090"), local("10:10"), local("13:00")),
        set_run("WRIST-01", "T-WRIST", ("C-1081", ""), local("09:40"), None),
    )
    loads = (
        Load(id="Washer 1-1", station="Washer", machine=1, cycle="instruments", begins=local("10:10"),
             ends=local("11:10"), sets=("WRIST-01",), first_due=None),
        Load(id="Washer 2-1", station="Washer", machine=2, cycle="instruments", begins=local("10:40"),
             ends=local("11:40"), sets=("HIPF-01", "GRAFT-01"), first_due=local("13:00")),
        Load(id="Sterilizer 1-1", station="Sterilizer", machine=1, cycle="pre-vacuum 132 °C", begins=local("12:25"),
             ends=local("13:35"), sets=("HIPF-01", "GRAFT-01", "WRIST-01"), first_due=local("13:00")),
    )  # fmt: skip
    hours = []
    for station, machines in (("Washer", 2), ("Assembly", 4), ("Sterilizer", 3)):
        for quarter in range(64):
            hill = max(0, 10 - abs(quarter - 28)) if station == "Washer" else max(0, 8 - abs(quarter - 36))
            hours.append(
                StationHour(station=station, begins=local("06:00") + timedelta(minutes=15 * quarter),
                            busy=float(min(machines, hill / 2)), waiting=max(0, hill - 2 * machines))
            )  # fmt: skip
    return DepartmentRun(
        rule="earliest deadline first", runs=runs, loads=loads, hours=tuple(hours), greatest_lateness=20
    )


DRAWN_FROM = DrawnFrom(
    minutes=((MinutesFrom.PROCEDURE, 5), (MinutesFrom.PUBLISHED, 3)),
    variation=0.557,
    first=Lateness(share=0.55, median=12.0, sigma=1.03, source=LatenessFrom.PUBLISHED),
    later=Lateness(share=0.2, median=8.4, sigma=0.9, source=LatenessFrom.PAST, cases=240),
    arrivals=Lateness(share=0.25, median=60.0, sigma=1.0, source=LatenessFrom.ASSUMED),
)


def chance() -> ChanceReport:
    row = ReuseChance(set_id="HIPF-01", giver="C-1041", waiter="C-1047", fails=0.314, expected_late=9.2, late_p90=38.0,
                      blame="C-1041", fails_hurried=0.12)  # fmt: skip
    return ChanceReport(
        draws=2000, seed=1, drawn_from=DRAWN_FROM, reuses=(row,),
        helps=(Help(text="one more set of Hip replacement, femoral", draws_saved=520, share_saved=0.26),),
    )  # fmt: skip


def shortages() -> tuple[ItemShortage, ...]:
    return (
        ItemShortage(item="I-201", name="Cement, bone, with antibiotic", wanted=4, on_hand=2, kept_back=1, expired=3,
                     lacking=(CaseShort(case="C-1041", open=1, hold=1),), stand_ins=(("I-202", 6),)),
        ItemShortage(item="I-203", name="Reamer sleeve, 9 mm", wanted=1, on_hand=0, kept_back=0, expired=0,
                     lacking=(CaseShort(case="C-1041", open=1, hold=0),)),
        ItemShortage(item="I-299", name=NASTY, wanted=9, on_hand=1, kept_back=0, expired=0,
                     lacking=(CaseShort(case="C-1060", open=4, hold=0), CaseShort(case="C-1047", open=4, hold=0))),
    )  # fmt: skip


def assignments(cases: dict[str, Case]) -> tuple[Assignment, ...]:
    def given(case: str, tray: str, set_id: str, **changes: object) -> Assignment:
        fields: dict[str, object] = {
            "use": use(cases[case], tray), "set_id": set_id, "tray_given": tray if set_id else "", "stand_in": False,
            "expected": None, "slack": None,
        }  # fmt: skip
        return Assignment(**(fields | changes))  # type: ignore[arg-type]

    return (
        given("C-1041", "T-BASIC", "BASIC-04"),
        given("C-1041", "T-HIP", "HIPF-01"),
        given("C-1041", "T-HIPA", "HIPA-02", expected=local("23:10", -1), slack=470),
        given("C-1041", "T-RET", "RET-02", tray_given="T-RET2", stand_in=True),
        given("C-1041", "T-SAW", "SAW-01"),
        given("C-1041", "T-GRAFT", "GRAFT-01"),
        given("C-1047", "T-BASIC", "BASIC-02"),
        given("C-1047", "T-HIP", "HIPF-01", expected=local("13:48"), slack=12),
        given("C-1060", "T-BASIC", "BASIC-01"),
        given("C-1081", "T-WRIST", "WRIST-01"),
        given("C-1082", "T-WRIST", "WRIST-02"),
        given("C-1083", "T-WRIST", "", late=125),
        given("C-1090", "T-GRAFT", "GRAFT-01", expected=local("13:25"), slack=-25),
        given("C-1090", "T-SAW", "SAW-01", expected=local("13:20"), slack=-20),
    )


def places() -> tuple[Place, ...]:
    made = [
        Place(id=f"{aisle}-{bay}-{shelf:02d}", order=None, area=f"Aisle {aisle}")
        for aisle in "ABC"
        for bay in range(1, 13)
        for shelf in range(1, 6)
    ]
    extra = [Place(id=name, area=area) for name, area in (
        ("A-10-2", "Aisle A"), ("A-2-1", "Aisle A"), ("P-1-01", "Packs"), ("P-1-02", "Packs"), ("D-1-03", "Peel packs"),
        ("D-1-10", "Peel packs"), ("shelf T-2-04", "Sterile store"))]  # fmt: skip
    return tuple(made + extra)


def trays() -> tuple[Tray, ...]:
    names = {
        "T-BASIC": "Basic soft tissue", "T-HIP": "Hip replacement, femoral", "T-HIPA": "Hip replacement, acetabular",
        "T-RET": "Retractor, deep, blades A to D", "T-RET2": LONG, "T-SAW": "Power saw and drill",
        "T-GRAFT": "Graft harvest", "T-WRIST": "Wrist fracture", "T-HAND": "Hand fracture",
    }  # fmt: skip
    return tuple(Tray(id=key, name=name, route="R", container=True) for key, name in names.items())


def items(carts: tuple[Cart, ...]) -> tuple[Item, ...]:
    found: dict[str, Item] = {"I-202": Item(id="I-202", name="Cement, bone, plain", place="A-10-3")}
    for one in carts:
        for line in (*one.sundries, *one.peel_packs, *one.people):
            place = line.picks[0].place if line.picks else "B-3-02"
            found[line.need.thing] = Item(id=line.need.thing, name=line.need.name, unit=line.unit, place=place)
    return tuple(found.values())


def rich_plan(**changes: object) -> Plan:
    """An evening with something on every sheet."""
    carts = all_carts()
    cases = (*(one.case for one in carts), *later_cases())
    by_number = {one.number: one for one in cases}
    given = by_number.__getitem__
    fields: dict[str, object] = {
        "version": 1,
        "day": DAY,
        "now": local("20:15", -1),
        "revision": 2,
        "replaces": 1,
        "settings": SETTINGS,
        "carts": carts,
        "cases": cases,
        "assignments": assignments(by_number),
        "reuses": (
            reuse("HIPF-01", "T-HIP", given("C-1041"), given("C-1047")),
            reuse("GRAFT-01", "T-GRAFT", given("C-1041"), given("C-1090"), slack=-25, least_slack=25),
            reuse("SAW-01", "T-SAW", given("C-1041"), given("C-1090"), if_unopened_ready=local("10:25"),
                  if_unopened_slack=155),
            reuse("HIPA-02", "T-HIPA", None, given("C-1041")),
        ),
        "clusters": clusters(),
        "shortages": shortages(),
        "department": department(),
        "chance": chance(),
        "sets": tuple(
            InstrumentSet(id=set_id, tray=tray, state=SetState.ON_SHELF, place="T-2-04")
            for set_id, tray in {a.set_id: a.tray_given for a in assignments(by_number) if a.set_id}.items()
        ),
        "trays": trays(),
        "items": items(carts),
        "places": places(),
        "staff": (
            StaffMember(id="S-QUILL", name="Dr Marlow Quill"),
            StaffMember(id="A-FERN", name="Juno Fern", role="assistant"),
        ),
        "uncounted": ("C-1050",),
        "problems": (
            *all_carts()[1].stopped,
            Problem(kind="extra column", severity=Severity.NOTICE, where=Where(file="cards.xlsx", sheet="Cards"),
                    message="the column Remarks is ignored"),
        ),
    }  # fmt: skip
    return Plan(**(fields | changes))  # type: ignore[arg-type]
