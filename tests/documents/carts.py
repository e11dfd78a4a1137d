"""Carts made by hand: many lines, alerts, sides, stand-ins, swaps, shortages and names that look like markup."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from picklist.model.cards import ThingKind
from picklist.model.catalogue import ItemClass
from picklist.model.needs import CaseNeeds, Merge, Need, PackContent, Pending, Reason, ReasonKind
from picklist.model.plan import Cart, GiveBack, SundryLine, TrayLine
from picklist.model.schedule import Case, Side
from picklist.model.supply import Pick
from picklist.model.uses import Pace
from picklist.problems import Problem, Severity, Where
from picklist.settings import Settings

DAY = date(2026, 11, 26)
NASTY = "#panic() *b* [x] $ @ref // <b>"
LONG = (
    "Retractor ring, self-retaining, with four deep blades and two extension arms, for very large or very deep fields"
)

SETTINGS = Settings(site="Example Hospital", time_zone="America/New_York")
CLOCK = SETTINGS.site_clock


def local(wall: str, day: int = 0) -> datetime:
    """The instant of a wall time on the plan's day, ``day`` days later."""
    hours, minutes = wall.split(":")
    return CLOCK.instant(DAY + timedelta(days=day), time(int(hours), int(minutes)))


def card(row: int) -> Where:
    return Where(file="cards.xlsx", sheet="Cards", row=row)


def need(case: str, kind: ThingKind, thing: str, name: str, opened: int = 1, hold: int = 0, **changes: object) -> Need:
    fields: dict[str, object] = {"case": case, "kind": kind, "thing": thing, "name": name, "open": opened, "hold": hold}
    return Need(**(fields | changes))  # type: ignore[arg-type]


def tray_line(case: str, tray: str, name: str, set_id: str, **changes: object) -> TrayLine:
    """A tray that stands on its shelf, recorded as sterile the evening before."""
    wants = {key: changes.pop(key) for key in ("opened", "hold", "side") if key in changes}
    fields: dict[str, object] = {
        "need": need(case, ThingKind.TRAY, tray, name, **wants),  # type: ignore[arg-type]
        "copy": 1,
        "name": name,
        "container": True,
        "count_sheet": True,
        "weight_lb": 16.5,
        "set_id": set_id,
        "stand_in_for": "",
        "place_now": "T-2-04",
        "recorded": local("21:40", -2),
        "expected": None,
        "needed": local("07:00"),
        "give_back": None,
        "conflicts": (),
        "on_hold": not wants.get("opened", 1),
    }
    return TrayLine(**(fields | changes))  # type: ignore[arg-type]


def sundry(
    case: str, item: str, name: str, picks: tuple[tuple[str, str, int, int], ...], **changes: object
) -> SundryLine:
    """An item picked from lots given as (lot, place, open, hold), expiring in March 2028."""
    short_open = int(changes.pop("short_open", 0))  # type: ignore[call-overload]
    short_hold = int(changes.pop("short_hold", 0))  # type: ignore[call-overload]
    unit = str(changes.pop("unit", "each"))
    stand_ins = changes.pop("stand_ins", ())
    kind = changes.pop("kind", ThingKind.ITEM)
    fields: dict[str, object] = {"item_class": ItemClass.SUPPLY} | changes
    person = str(fields.get("person", ""))
    opened = sum(p[2] for p in picks) + short_open
    hold = sum(p[3] for p in picks) + short_hold
    return SundryLine(
        need=need(case, kind, item, name, opened, hold, **fields),  # type: ignore[arg-type]
        unit=unit,
        picks=tuple(
            Pick(case=case, item=item, lot=lot, place=place, expiry=date(2028, 3, 31), open=o, hold=h, person=person)
            for lot, place, o, h in picks
        ),
        short_open=short_open,
        short_hold=short_hold,
        stand_ins=stand_ins,  # type: ignore[arg-type]
    )


def plain_case(number: str, room: str, start: str, minutes: int, **changes: object) -> Case:
    fields: dict[str, object] = {
        "number": number,
        "day": DAY,
        "room": room,
        "start": local(start),
        "minutes": minutes,
        "surgeon": "S-QUILL",
        "procedures": ("P-HIP",),
        "side": Side.LEFT,
    }
    return Case(**(fields | changes))  # type: ignore[arg-type]


def cart(case: Case, **changes: object) -> Cart:
    fields: dict[str, object] = {
        "case": case,
        "surgeon_name": "Dr Marlow Quill",
        "procedure_names": ("Hip replacement, total",),
        "side": case.side,
        "complete_by": case.start - timedelta(minutes=30),
        "needs": CaseNeeds(case=case.number),
        "trays": (),
        "packs": (),
        "sundries": (),
        "peel_packs": (),
        "people": (),
        "room_checks": (),
        "implants": (),
        "reference_only": (),
    }
    return Cart(**(fields | changes))  # type: ignore[arg-type]


WORDS = (
    "Drape, half sheet", "Suture, absorbable 2-0", "Suture, absorbable 0", "Sponge, lap 18 x 18", "Blade no. 10",
    "Blade no. 15", "Skin stapler", "Syringe 20 ml", "Needle 18 g", "Dressing, island 10 x 25", "Light handle cover",
    "Suction tubing", "Suction tip, rigid", "Electrode pencil", "Grounding pad", "Skin marker", "Bulb syringe",
    "Tape, cloth 5 cm", "Bandage, elastic 15 cm", "Drain, closed 10 fr", "Irrigation tubing", "Bone wax",
)  # fmt: skip


def many_sundries(case: str, count: int) -> tuple[SundryLine, ...]:
    """So many items over three aisles, every seventh from two lots."""
    made = []
    for n in range(count):
        name = WORDS[n % len(WORDS)] + (f", type {n // len(WORDS) + 1}" if n >= len(WORDS) else "")
        place = f"{'ABC'[n % 3]}-{n % 12 + 1}-{n % 5 + 1:02d}"
        picks: tuple[tuple[str, str, int, int], ...] = ((f"L{4100 + n}", place, n % 3 + 1, n % 2),)
        if n % 7 == 3:
            picks += ((f"L{5100 + n}", place, 1, 0),)
        made.append(sundry(case, f"I-{n + 101}", name, picks))
    return tuple(made)


def gloves(case: str, person: str, size: str) -> tuple[SundryLine, ...]:
    outer = sundry(
        case, f"GL-O-{size}", f"Glove, outer, latex-free, {size}", (("G881", "C-1-01", 2, 1),),
        item_class=ItemClass.OUTER_GLOVE, size=size, person=person, unit="pair",
        reasons=(Reason(kind=ReasonKind.LATEX_SWAP, text="in place of Glove, outer, latex", open=2, hold=1),),
    )  # fmt: skip
    under = sundry(
        case, f"GL-U-{size}", f"Glove, under, {size}", (("G882", "C-1-02", 1, 0),),
        item_class=ItemClass.UNDER_GLOVE, size=size, person=person, unit="pair",
    )  # fmt: skip
    gown = sundry(
        case, "GOWN-XL", "Gown, reinforced, XL", (("W17", "C-2-01", 1, 0),),
        item_class=ItemClass.GOWN, size="XL", person=person,
    )  # fmt: skip
    return (outer, under, gown)


def long_cart() -> Cart:
    """Several pages: latex alert, left side, two procedures, give-back, stand-in, shortages, everything else."""
    number = "C-1041"
    case = plain_case(
        number, "OR 3", "07:30", 150, alerts=("latex", "malignant hyperthermia"), procedures=("P-HIP", "P-GRAFT"),
        patient_size="adult", team=("S-QUILL", "A-FERN"), notes="Position before the drapes; long instruments first.",
    )  # fmt: skip
    give_back = GiveBack(
        leave_room_by=local("10:12"),
        reach_decontamination_by=local("10:22"),
        for_case="C-1047",
        slack=-18,
        pace=Pace.QUEUE,
    )
    item = ThingKind.ITEM
    return cart(
        case,
        procedure_names=("Hip replacement, total", "Bone graft harvest, iliac crest"),
        needs=CaseNeeds(
            case=number,
            merges=(
                Merge(kind=ThingKind.TRAY, thing="T-BASIC", asked=(("P-HIP", 1, 0), ("P-GRAFT", 1, 0)), open=1, hold=0),
                Merge(kind=item, thing="I-104", asked=(("P-HIP", 2, 0), ("P-GRAFT", 3, 0)), open=3, hold=0),
            ),
            pack_contents=(
                PackContent(item="I-GOWN", name="Gown, standard", quantity=3),
                PackContent(item="I-112", name="Suction tubing", quantity=1),
                PackContent(item="I-111", name="Light handle cover", quantity=2),
                PackContent(item="I-LAP", name="Sponge, lap 18 x 18, package of five", quantity=1),
            ),
            notices=(
                Problem(
                    kind="glove size missing",
                    severity=Severity.TO_FIX,
                    where=Where(file="site.xlsx", sheet="Staff", row=9),
                    message="the assistant has no under glove size, so none is listed",
                ),
            ),
            pending=(Pending(text="Hip replacement, total: add Drain, closed 10 fr, not approved", where=card(212)),),
        ),
        trays=(
            tray_line(number, "T-BASIC", "Basic soft tissue", "BASIC-04"),
            tray_line(number, "T-HIP", "Hip replacement, femoral", "HIPF-01", weight_lb=23.0, give_back=give_back),
            tray_line(number, "T-HIPA", "Hip replacement, acetabular", "HIPA-02", place_now="sterilizer, since 20:05",
                      recorded=None, expected=local("23:10", -1)),
            tray_line(number, "T-RET", LONG, "RET-02", container=False, count_sheet=False, weight_lb=None,
                      stand_in_for="Retractor, deep, blades A to D", place_now="shelf T-10-01", side=Side.LEFT),
            tray_line(number, "T-SAW", "Power saw and drill", "SAW-01", opened=0, hold=1),
            tray_line(number, "T-GRAFT", "Graft harvest", "", conflicts=("K-2",), place_now="", recorded=None),
        ),
        packs=(sundry(number, "PK-HIP", "Hip pack", (("PK771", "P-1-01", 1, 0),), kind=ThingKind.PACK,
                      item_class=None),),
        sundries=(
            *many_sundries(number, 46),
            sundry(number, "I-201", "Cement, bone, with antibiotic", (("B01", "A-10-2", 1, 0),), short_open=1,
                   short_hold=1, stand_ins=(("I-202", 6),)),
            sundry(number, "I-203", "Reamer sleeve, 9 mm", (), short_open=1),
            sundry(number, "I-204", NASTY, (("L#1", "A-2-1", 1, 0),)),
        ),
        peel_packs=(sundry(number, "PP-11", "Clamp, right angle, 23 cm", (("", "D-1-03", 1, 0),),
                           item_class=ItemClass.PEEL_PACK),
                    sundry(number, "PP-12", "Elevator, 6 mm", (("", "D-1-10", 0, 1),),
                           item_class=ItemClass.PEEL_PACK)),
        people=(*gloves(number, "S-QUILL", "7.5"), *gloves(number, "A-FERN", "6.5")),
        room_checks=(
            need(number, item, "EQ-1", "Microscope arm", item_class=ItemClass.EQUIPMENT, note="left of the table"),
            need(number, item, "EQ-2", "Lateral positioner", item_class=ItemClass.POSITIONING),
        ),
        implants=(
            need(number, item, "IM-1", "Femoral stem, uncemented", 1, 0, item_class=ItemClass.IMPLANT, side=Side.LEFT,
                 size="10 to 14", brought_by="Acorn Devices (representative)", note="two of each size in the room"),
        ),
        reference_only=(
            need(number, item, "MD-1", "Cefazolin 2 g", item_class=ItemClass.MEDICINE),
            need(number, item, "MD-2", "Saline 0.9 %, 1000 ml", 3, 0, item_class=ItemClass.SOLUTION),
        ),
    )  # fmt: skip


def waiting_cart() -> Cart:
    """Waits for a set that another case gives back."""
    number = "C-1047"
    case = plain_case(number, "OR 3", "14:30", 120, side=Side.RIGHT, surgeon="S-ASTER")
    return cart(
        case,
        surgeon_name="Dr Ines Aster",
        trays=(
            tray_line(number, "T-BASIC", "Basic soft tissue", "BASIC-02", needed=local("14:00")),
            tray_line(number, "T-HIP", "Hip replacement, femoral", "HIPF-01", needed=local("14:00"), recorded=None,
                      place_now="in use by C-1041 until 10:00", expected=local("13:48"), conflicts=("K-1",)),
        ),
        sundries=many_sundries(number, 9),
        people=gloves(number, "S-ASTER", "7"),
    )  # fmt: skip


def stopped_cart() -> Cart:
    """A cart whose side was left blank."""
    problem = Problem(
        kind="side missing",
        severity=Severity.STOPS_CASE,
        where=Where(file="schedule.xlsx", sheet="Schedule", row=14, column="side", cell="H14"),
        message="the side of case C-1050 is blank, and the tray Knee scope is kept by side",
        expected="left, right or both",
        cases=("C-1050",),
    )
    other = Problem(
        kind="unknown procedure",
        severity=Severity.STOPS_CASE,
        where=Where(file="schedule.xlsx", sheet="Schedule", row=14, column="procedures", cell="G14"),
        message=f"no procedure is called {NASTY}",
        value=NASTY,
        nearest=("Knee arthroscopy",),
        cases=("C-1050",),
    )
    case = plain_case("C-1050", "OR 10", "08:15", 60, side=None, surgeon="S-BIRCH")
    return cart(case, surgeon_name="Dr Tove Birch", procedure_names=("Knee arthroscopy",), stopped=(problem, other))


def short_cart() -> Cart:
    """A small case of no side with one line of each kind."""
    number = "C-1060"
    case = plain_case(number, "OR 2", "09:00", 45, side=Side.NOT_SIDED, surgeon="S-BIRCH", procedures=("P-HERNIA",))
    return cart(
        case,
        surgeon_name="Dr Tove Birch",
        procedure_names=("Hernia repair, umbilical",),
        trays=(tray_line(number, "T-BASIC", "Basic soft tissue", "BASIC-01", needed=local("08:30")),),
        packs=(sundry(number, "PK-GEN", "General pack", (("PK100", "P-1-02", 1, 0),), kind=ThingKind.PACK,
                      item_class=None),),
        sundries=many_sundries(number, 6),
        people=gloves(number, "S-BIRCH", "7"),
    )  # fmt: skip


def nasty_cart() -> Cart:
    """Every free text looks like markup, a formula, or lies outside the font."""
    number = "C-1070"
    case = plain_case(number, "OR 2", "11:00", 30, side=Side.BOTH, alerts=(NASTY,), notes=NASTY)
    return cart(
        case,
        surgeon_name='=HYPERLINK("x")',
        procedure_names=(NASTY, "Eye 日 \u200d test"),
        trays=(tray_line(number, "T-#", NASTY, "X-#1", place_now=NASTY, needed=local("10:30")),),
        sundries=(sundry(number, "+1", "-cmd|' /C calc'!A0", (("@L", NASTY, 1, 0),), note='#eval("1")'),),
    )


def all_carts() -> tuple[Cart, ...]:
    return (long_cart(), stopped_cart(), short_cart(), nasty_cart(), waiting_cart())
