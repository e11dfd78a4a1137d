"""Lots whose expiry is hardly meant so, or that should no longer lie on a shelf."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime

from picklist.model.catalogue import Lot
from picklist.model.site import Site
from picklist.problems import Problem, Severity

LONG_AGO_YEARS = 3  # common practice, no source: nobody keeps it that long, so the year is mistyped
FAR_YEARS = 15


def check_expiries(site: Site, now: datetime) -> Iterator[Problem]:
    """Notices for lots past their expiry; problems for years that must be typing mistakes."""
    today = site.settings.site_clock.day(now)
    for lot in site.lots:
        if lot.expiry is None:
            continue
        years = lot.expiry.year - today.year
        if years < -LONG_AGO_YEARS or years > FAR_YEARS:
            message = f"lot {lot.lot} of {lot.item} expires in {lot.expiry.year}"
            yield _problem("unlikely expiry", lot, Severity.TO_MEND, message, "the year on the label")
        elif lot.expiry < today and lot.quantity > 0:
            message = f"lot {lot.lot} of {lot.item} is past its expiry {lot.expiry.isoformat()}; it is given to no case"
            yield _problem("expired lot", lot, Severity.NOTICE, message, "nothing past its expiry on a shelf")


def _problem(kind: str, lot: Lot, severity: Severity, message: str, expected: str) -> Problem:
    return Problem(
        kind=kind,
        severity=severity,
        where=replace(lot.where, column="expiry"),
        message=message,
        value=lot.expiry.isoformat() if lot.expiry else "",
        expected=expected,
    )
