"""Addresses that others have, and devices that announce others. Each is named first, and nothing false is said."""

import pytest

from . import causes_address, causes_announced
from .causes import Cause, observe_all


@pytest.mark.parametrize("cause", [*causes_address.CAUSES, *causes_announced.CAUSES], ids=lambda cause: str(cause.name))
def test_the_cause_is_named_and_nothing_false_is_said(cause: Cause) -> None:
    for who, outcome in observe_all(cause).items():
        assert outcome.faults == [], f"{who}:\n{outcome.page}"
