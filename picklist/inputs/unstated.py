"""What a sheet does not state: said once for each column, with the count, the first cell and what is assumed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from picklist.inputs.site_reader import SiteReader
from picklist.problems import Severity, Where

NAMED = 3  # ids that are named beside the count


@dataclass(frozen=True, slots=True, kw_only=True)
class Unstated:
    """One column that some rows leave blank: of how many rows of what, and what that leads to.

    ``harmless``: the plan does not change by it, so that it is only worth knowing.
    """

    column: str
    of: int
    what: str
    assumed: str
    expected: str
    kind: str = "not stated"
    harmless: bool = False


def report_unstated(reader: SiteReader, found: Unstated, blank: Sequence[tuple[str, Where]]) -> None:
    """One problem for all ids (with their cells) that leave the column blank; none when there are none."""
    if not blank:
        return
    named = ", ".join(one for one, _ in blank[:NAMED])
    more = f" and {len(blank) - NAMED} more" if len(blank) > NAMED else ""
    reader.ledger.report(
        found.kind,
        blank[0][1],
        f"{found.column} is not stated for {len(blank)} of {found.of} {found.what} ({named}{more}); {found.assumed}",
        severity=Severity.NOTICE if found.harmless else Severity.TO_FIX,
        expected=found.expected,
    )
