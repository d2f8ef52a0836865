"""What is in order is called so, whoever asks: `ready`, or with care where there is a reason to take care.

Here administrator and nobody take turns; `python -m tests.real.healthy_devices` asks as both.
"""

import itertools

import pytest

from . import healthy, healthy_devices
from .causes import Cause, observe
from .causes_asking import READERS, Reader

CASES = [*healthy.CASES, *healthy_devices.CASES]


@pytest.mark.parametrize(
    ("case", "who"),
    [
        pytest.param(case, who, id=f"{case.name}-{who}")
        for case, who in zip(CASES, itertools.cycle(READERS), strict=False)
    ],
)
def test_what_is_in_order_is_not_called_broken(case: Cause, who: Reader) -> None:
    outcome = observe(case, who)
    assert outcome.faults == [], outcome.page
