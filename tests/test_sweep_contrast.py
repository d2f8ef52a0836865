"""The overview's colours by the arithmetic of WCAG 2.2 (relative luminance, contrast ratio), in every scheme."""

import re

import pytest

from netcheck.report.sweep_overview import render_overview
from tests.sweep_rows import night


def luminance(colour: str) -> float:
    """WCAG 2.2, "relative luminance"."""
    digits = colour.lstrip("#")
    digits = digits if len(digits) == 6 else "".join(each * 2 for each in digits)
    parts = [int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)]
    red, green, blue = [each / 12.92 if each <= 0.04045 else ((each + 0.055) / 1.055) ** 2.4 for each in parts]
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, "contrast ratio"."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def schemes() -> list[dict[str, str]]:
    """The colours of each scheme: light, dark, print."""
    page = render_overview(night(), [])
    return [
        dict(re.findall(r"--([a-z]+): (#[0-9a-f]{3,6});", block))
        for block in re.findall(r":root \{(.*?)\}", page, re.DOTALL)
    ]


@pytest.mark.parametrize("number", [0, 1, 2], ids=["light", "dark", "print"])
def test_contrast_is_enough(number: int) -> None:
    assert len(schemes()) == 3
    colours = schemes()[number]
    for ground in ("paper", "raised", "mark"):
        for text in ("ink", "faint", "link", "bad", "unknown", "care", "good"):
            assert contrast(colours[text], colours[ground]) >= 4.5, (text, ground)  # 1.4.3, AA
        if ground != "mark":
            assert contrast(colours["edge"], colours[ground]) >= 3, ground  # 1.4.11: edges of fields and buttons


def test_the_ratio_itself_is_right() -> None:
    """WCAG's own ends of the scale: 21 to 1 and 1 to 1; and #767676 on white, the lightest grey of AA (4.54)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#fff", "#ffffff") == pytest.approx(1)
    assert contrast("#767676", "#fff") == pytest.approx(4.54, abs=0.005)
