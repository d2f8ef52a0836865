"""Which of two versions is newer."""

import re
from decimal import Decimal, InvalidOperation


def compare(one: str, other: str, order: str = "dotted") -> int | None:
    """-1, 0 or 1 as ``one`` is older than, equal to or newer than ``other``; None where they cannot be compared.

    ``dotted``: component by component, numbers as numbers (4.10 is newer than 4.9), missing components are zero.
    ``decimal``: one number (4.10 is older than 4.9). Equal text is always equal.
    """
    one, other = one.strip(), other.strip()
    if one == other:
        return 0
    if order == "decimal":
        try:
            first, second = Decimal(one), Decimal(other)
        except InvalidOperation:
            return None
        return (first > second) - (first < second) if first.is_finite() and second.is_finite() else None
    left, right = _components(one), _components(other)
    if left is None or right is None:
        return None
    length = max(len(left), len(right))
    left, right = left + [0] * (length - len(left)), right + [0] * (length - len(right))
    return (left > right) - (left < right)


def _components(text: str) -> list[int] | None:
    if not re.fullmatch(r"[vV]?[0-9]{1,12}(\.[0-9]{1,12})*", text):
        return None
    return [int(part) for part in text.lstrip("vV").split(".")]
