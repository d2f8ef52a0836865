"""Everything here is marked `real`, and skipped with the reason where the machine cannot do it.

NETCHECK_REAL=required makes such a skip a failure, so that a machine which is meant to run these tests cannot quietly
stop running them.
"""

import functools
import os
import platform
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from .needs import isolation_refused, why_not
from .office import Office
from .site import Site

HERE = Path(__file__).parent


@functools.cache
def reason() -> str:
    uid: int = os.geteuid() if hasattr(os, "geteuid") else -1
    return why_not(platform.system(), uid, shutil.which, isolation_refused)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if item.path.is_relative_to(HERE):
            item.add_marker(pytest.mark.real)


def pytest_runtest_setup(item: pytest.Item) -> None:
    if not reason():
        return
    if os.environ.get("NETCHECK_REAL") == "required":
        pytest.fail(f"NETCHECK_REAL=required, but {reason()}", pytrace=False)
    pytest.skip(reason())


@pytest.fixture
def site() -> Iterator[Site]:
    with Site() as up:
        yield up


@pytest.fixture
def office() -> Iterator[Office]:
    with Office() as up:
        yield up
