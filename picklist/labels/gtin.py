"""GS1 item numbers (GTIN): check digit, and packages of one another.

Source: GS1 General Specifications (check digit 7.9, GTIN-14 and its indicator 2.1).
"""

from __future__ import annotations

LENGTHS = (8, 12, 13, 14)
_VARIABLE_MEASURE = "9"


def check_digit(digits: str) -> int:
    """The check digit of a number without it: weights 3 and 1 from the right, up to the next ten."""
    weighted = sum(int(digit) * (3, 1)[n % 2] for n, digit in enumerate(reversed(digits)))
    return -weighted % 10


def has_right_check_digit(number: str) -> bool:
    """Whether the last digit of a number is its check digit."""
    return len(number) > 1 and number.isascii() and number.isdigit() and check_digit(number[:-1]) == int(number[-1])


def is_gtin(number: str) -> bool:
    """Whether a text is a GTIN: 8 (EAN-8), 12 (UPC-A), 13 (EAN-13) or 14 digits (ITF-14), the last one right."""
    return len(number) in LENGTHS and has_right_check_digit(number)


def same_gtin(one: str, other: str) -> bool:
    """Whether two numbers of different lengths name the same item (leading zeros do not count)."""
    return bool(one) and one.zfill(14) == other.zfill(14)


def other_package(one: str, other: str) -> bool:
    """Whether two GTINs name packages of different size of the same thing.

    They differ in the first digit, the indicator (0 or none: one piece; 1 to 8: a box, a carton), and so in the last.
    """
    one, other = one.zfill(14), other.zfill(14)
    return one[0] != other[0] and one[1:13] == other[1:13] and _VARIABLE_MEASURE not in (one[0], other[0])
