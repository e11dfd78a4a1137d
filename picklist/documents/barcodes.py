"""Bar codes as drawings."""

from __future__ import annotations

import zxingcpp


def code_128(text: str) -> str:
    """A Code 128 of plain text as SVG without quiet zone or caption. Raises ValueError for text it cannot say."""
    code = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.Code128)
    return str(zxingcpp.write_barcode_to_svg(code, add_hrt=False, add_quiet_zones=False))
