"""Bar codes as drawings."""

from __future__ import annotations

import zxingcpp


def label_bars(code: str, gs1: bool) -> str:
    """The bar code of a cart's label as SVG, with what the view says it holds; empty for none."""
    return (gs1_data_matrix(code) if gs1 else code_128(code)) if code else ""


def gs1_data_matrix(elements: str) -> str:
    """A square GS1 DataMatrix of elements with their identifiers in brackets, as SVG with its quiet zone."""
    code = zxingcpp.create_barcode(elements, zxingcpp.BarcodeFormat.DataMatrix, gs1=True, force_square=True)
    return str(zxingcpp.write_barcode_to_svg(code, add_hrt=False, add_quiet_zones=True))


def code_128(text: str) -> str:
    """A Code 128 of plain text as SVG without quiet zone or caption. Raises ValueError for text it cannot say."""
    code = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.Code128)
    return str(zxingcpp.write_barcode_to_svg(code, add_hrt=False, add_quiet_zones=False))
