"""How many digits a number is worth showing: two of an uncertainty, and a value to the last of these.

After JCGM 100:2008, 7.2.6. What is stored and what programs read keeps every digit.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import floor, isfinite, log10

MOST_DECIMALS = 9


def decimals_of(uncertainty: float, digits: int = 2) -> int:
    """Return the decimals that end with a number's last significant digit of so many; none for nought."""
    size = abs(uncertainty)
    if not isfinite(size) or size == 0.0:
        return 0
    rounded = float(f"{size:.{digits - 1}e}")  # 0.0996 is 0.10, one decimal less than its own digits say
    return min(max(0, digits - 1 - floor(log10(rounded))), MOST_DECIMALS)


def two_digits(uncertainty: float) -> str:
    """Return an uncertainty or a spread to two significant digits; a whole number from 10 on."""
    return f"{uncertainty:.{decimals_of(uncertainty)}f}"


def to_last_digit(value: float, uncertainty: float) -> str:
    """Return a value to the second digit of its uncertainty, and nought without a sign."""
    return f"{value:z.{decimals_of(uncertainty)}f}"


def percent(share: float, bounds: Sequence[float] = ()) -> str:
    """Return a percentage to two digits, whole from 10 on, the sign % left to the sentence.

    Less than a hundredth of one, either way, is called so. bounds: what it is judged by; more digits come where
    rounding would put it on the other side of one.
    """
    if 0.0 < abs(share) < 0.01:
        return "under 0.01"
    for more in range(4):
        text = f"{share:.{decimals_of(share) + more}f}"
        shown = float(text)
        if all((shown < bound) == (share < bound) and (shown > bound) == (share > bound) for bound in bounds):
            return text
    return text
