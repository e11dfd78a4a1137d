"""Items and trays: check digits, latex and latex-free twins, weights, trays that nobody owns, expiries of lots."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import date, datetime

from picklist.labels.hibc import primary_of
from picklist.labels.label import LENGTHS, LabelError, has_right_check_digit
from picklist.model.catalogue import Item, ItemClass, Tray
from picklist.model.expiry import Expires, expiry_text
from picklist.model.site import Site
from picklist.problems import Problem, notice, to_fix
from picklist.wording import counted, expiry

WORN = frozenset({ItemClass.OUTER_GLOVE, ItemClass.UNDER_GLOVE, ItemClass.GOWN})
HEAVIEST_LB = 25.0  # ANSI/AAMI ST77 4.3.5, container with contents; quoted second hand


def check_gtins(site: Site, _now: datetime) -> Iterator[Problem]:
    """GTINs of a wrong length or with a wrong check digit (GS1: weights 3 and 1 from the right).

    What the cell holds is not said: a long number could be a patient's.
    """
    for item in site.items.values():
        if not item.gtin:
            continue
        digits = item.gtin.replace(" ", "")
        where = item.where.at("GTIN")
        if not (digits.isascii() and digits.isdigit()) or len(digits) not in LENGTHS:
            nearest = _with_zeros(digits)
            message, expected = "this is not a GTIN", "8, 12, 13 or 14 digits"
            yield to_fix("not a GTIN", where, message, expected=expected, nearest=nearest, guessed=bool(nearest))
        elif not has_right_check_digit(digits):
            yield to_fix(
                "wrong check digit",
                where,
                "the last digit of this GTIN does not agree with the others",
                expected="the number as printed below the bar code",
            )


def check_hibcs(site: Site, _now: datetime) -> Iterator[Problem]:
    """HIBC codes that cannot be: wrong in shape, or with a wrong check character where they are stated whole."""
    for item in site.items.values():
        try:
            primary_of(item.hibc or "A000X0")
        except LabelError as error:
            yield to_fix(
                "not a HIBC code",
                item.where.at("HIBC"),
                f"the HIBC code of {item.id} cannot be right: {error}",
                expected="the code below the bar code, such as A123BJC5D6E71",
            )


def _with_zeros(digits: str) -> tuple[str, ...]:
    """A number typed as such loses its leading zeros: the shortest length at which the check digit agrees."""
    if not has_right_check_digit(digits):
        return ()
    return tuple(digits.zfill(length) for length in LENGTHS if length > len(digits))[:1]


def check_latex_stated(site: Site, _now: datetime) -> Iterator[Problem]:
    """One notice for all items, and one for all trays, in use of which it is not stated whether they hold latex."""
    yield from _latex_not_stated(site.items.values(), "item", "stops the list, unless its twin is stated to be free")
    yield from _latex_not_stated(site.trays.values(), "tray", "is named on the list, to be checked by hand")


def _latex_not_stated(things: Iterable[Item | Tray], kind: str, outcome: str) -> Iterator[Problem]:
    used = [one for one in things if not one.retired]
    silent = [one for one in used if one.latex is None]
    if silent:
        first = silent[0].where.at("latex")
        named = f", first for {silent[0].id}" if len(silent) < len(used) else ""
        yield notice(
            "latex not stated",
            first if named else replace(first, row=None),
            f"latex is not stated for {len(silent)} of {counted(len(used), kind)}{named}; under a latex alert "
            f"such {'an' if kind == 'item' else 'a'} {kind} {outcome}",
            expected=f"yes or no for every {kind}",
        )


def check_latex_twins(site: Site, _now: datetime) -> Iterator[Problem]:
    """Latex-free twins that are of latex themselves, not stated to be free while their item is, or retired."""
    for item in site.items.values():
        twin = site.items.get(item.latex_free_twin)
        if twin is None:
            continue
        if twin.latex:
            fault = "holds latex itself"
        elif twin.retired:
            fault = "is retired"
        elif twin.may_hold_latex and item.latex is not None:
            fault = "is not stated to be free of latex"
        else:
            continue
        yield to_fix(
            "twin cannot serve",
            item.where.at("latex-free twin"),
            f"the latex-free twin {twin.id} of {item.id} {fault}",
            value=twin.id,
            expected="an item without latex that is in use",
            related=(twin.where,),
        )


def check_sizes(site: Site, _now: datetime) -> Iterator[Problem]:
    """Gloves and gowns without a size: they are given to nobody."""
    for item in site.items.values():
        if item.item_class in WORN and not item.size and not item.retired:
            message = f"the {item.item_class} {item.id} has no size, so it is given to nobody"
            yield to_fix("size not stated", item.where.at("size"), message, expected="the size on its package, as 7.5")


def check_weights(site: Site, _now: datetime) -> Iterator[Problem]:
    """Notices for trays above the weight that a container with contents should not pass."""
    for tray in site.trays.values():
        if tray.weight_lb is not None and tray.weight_lb > HEAVIEST_LB:
            what = "container" if tray.container else "wrapped tray"
            yield notice(
                "heavy tray",
                tray.where.at("weight lb"),
                f"the {what} {tray.id} weighs {tray.weight_lb:g} lb",
                value=f"{tray.weight_lb:g}",
                expected=f"at most {HEAVIEST_LB:g} lb with contents (ANSI/AAMI ST77); local policy decides",
            )


def check_count_sheets(site: Site, _now: datetime) -> Iterator[Problem]:
    """Notices for trays that are said to have no count sheet, and whose instruments are listed even so."""
    for tray in site.trays.values():
        if tray.instruments and not tray.count_sheet:
            yield notice(
                "count sheet",
                tray.where.at("count sheet"),
                f"the tray {tray.id} has no count sheet, but Tray contents lists "
                f"{counted(len(tray.instruments), 'instrument')} of it; its list says 'no count sheet'",
                value="no",
                expected="yes, or no rows of this tray in Tray contents",
            )


def check_trays_without_sets(site: Site, _now: datetime) -> Iterator[Problem]:
    """Notices for trays in use of which there is no set."""
    owned = {one.tray for one in site.sets.values()}
    for tray in site.trays.values():
        if tray.id not in owned and not tray.retired:
            message = f"there is no set of the tray {tray.id} that could be planned with"
            yield notice("tray without sets", tray.where, message, value=tray.id, expected="a row in Sets")


LONG_AGO_YEARS = 3  # common practice, no source: nobody keeps it that long, so the year is mistyped
FAR_YEARS = 15


def check_expiries(site: Site, now: datetime) -> Iterator[Problem]:
    """Notices for lots past their expiry; problems for years that must be typing mistakes."""
    today = site.settings.site_clock.day(now)
    for lot in site.lots:
        if not isinstance(lot.expiry, date):
            continue
        if not -LONG_AGO_YEARS <= lot.expiry.year - today.year <= FAR_YEARS:
            message, expected = f"lot {lot.lot} of {lot.item} expires in {lot.expiry.year}", "the year on the label"
            yield to_fix(
                "unlikely expiry", lot.where.at("expiry"), message, value=expiry_text(lot.expiry), expected=expected
            )
        elif lot.expiry < today and lot.quantity > 0:
            message = f"lot {lot.lot} of {lot.item} is past its expiry {expiry(lot.expiry)}; it is given to no case"
            expected = "nothing past its expiry on a shelf"
            yield notice(
                "expired lot", lot.where.at("expiry"), message, value=expiry_text(lot.expiry), expected=expected
            )


def check_expiry_recorded(site: Site, _now: datetime) -> Iterator[Problem]:
    """One notice for all lots of which no expiry is recorded, and nothing says that they never expire."""
    there = [lot for lot in site.lots if lot.quantity > 0]
    silent = [lot for lot in there if lot.expiry is None]
    if silent:
        first = silent[0].where.at("expiry")
        named = "" if len(silent) == len(there) else f", first for {silent[0].item} lot {silent[0].lot}"
        yield notice(
            "expiry not recorded",
            first if named else replace(first, row=None),
            f"no expiry is recorded for {len(silent)} of {counted(len(there), 'lot')}{named}; "
            "such a lot is used last and its package must be checked",
            expected=f"the last day for every lot, or '{Expires.NEVER}' for what never expires",
        )
