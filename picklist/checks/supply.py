"""Lots whose expiry is hardly meant so, or that should no longer lie on a shelf."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime

from picklist.model.catalogue import Lot
from picklist.model.expiry import Expires, expiry_text
from picklist.model.site import Site
from picklist.problems import Problem, Severity

LONG_AGO_YEARS = 3  # common practice, no source: nobody keeps it that long, so the year is mistyped
FAR_YEARS = 15


def check_expiries(site: Site, now: datetime) -> Iterator[Problem]:
    """Notices for lots past their expiry; problems for years that must be typing mistakes."""
    today = site.settings.site_clock.day(now)
    for lot in site.lots:
        if not isinstance(lot.expiry, date):
            continue
        years = lot.expiry.year - today.year
        if years < -LONG_AGO_YEARS or years > FAR_YEARS:
            message = f"lot {lot.lot} of {lot.item} expires in {lot.expiry.year}"
            yield _problem("unlikely expiry", lot, Severity.TO_MEND, message, "the year on the label")
        elif lot.expiry < today and lot.quantity > 0:
            message = f"lot {lot.lot} of {lot.item} is past its expiry {lot.expiry.isoformat()}; it is given to no case"
            yield _problem("expired lot", lot, Severity.NOTICE, message, "nothing past its expiry on a shelf")


def check_expiry_recorded(site: Site, _now: datetime) -> Iterator[Problem]:
    """One notice for all lots of which no expiry is recorded, and nothing says that they never expire."""
    there = [lot for lot in site.lots if lot.quantity > 0]
    silent = [lot for lot in there if lot.expiry is None]
    if silent:
        first = replace(silent[0].where, column="expiry")
        named = "" if len(silent) == len(there) else f", first for {silent[0].item} lot {silent[0].lot}"
        yield Problem(
            kind="expiry not recorded",
            severity=Severity.NOTICE,
            where=first if named else replace(first, row=None),
            message=f"no expiry is recorded for {len(silent)} of {len(there)} lots{named}; such a lot is used last and "
            "its package must be checked",
            expected=f"the last day for every lot, or '{Expires.NEVER}' for what never expires",
        )


def _problem(kind: str, lot: Lot, severity: Severity, message: str, expected: str) -> Problem:
    return Problem(
        kind=kind,
        severity=severity,
        where=replace(lot.where, column="expiry"),
        message=message,
        value=expiry_text(lot.expiry),
        expected=expected,
    )
