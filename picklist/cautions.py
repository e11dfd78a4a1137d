"""What a list does not prove and who decides: the same words on every paper, workbook and page."""

from __future__ import annotations

AID = "Planning aid, not a record of sterility or release. Device instructions, local policy and licensed staff decide."
CHECK_BEFORE_USE = (
    "Before it goes on the cart and again before use: package whole and dry, indicator changed, lock in place "
    "(containers), expiry, side and size. Do not use what fails a check."
)
CAUTIONS = (AID, CHECK_BEFORE_USE)
CAUTIONS_SHEET = "Cautions"  # of a workbook
