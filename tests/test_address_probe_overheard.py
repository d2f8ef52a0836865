"""Whom a device asks for itself while it is asked: how long the `address` probe listens for that, and where not.

The wire is invented, as in test_address_probe.
"""

import asyncio
import time

import pytest

from netcheck.facts import Fact
from netcheck.facts.network import Service, SnmpAgent
from probes.address.wires import Heard
from probes.ports import SILENT_AFTER_S
from tests.test_address_probe import NEW, Scene, device


@pytest.fixture
def scene(monkeypatch: pytest.MonkeyPatch) -> Scene:
    return Scene(monkeypatch)


def test_a_device_that_answers_is_not_waited_for(scene: Scene) -> None:
    scene.heard, scene.asks = Heard((NEW,)), ("192.0.2.10",)
    began = time.monotonic()
    assert scene.collected(device())[0][1].asks == ("192.0.2.10",)
    assert time.monotonic() - began < 0.2


@pytest.mark.parametrize("fact", [Service("ipp", 631, "open", "", 1, (1,)), SnmpAgent("v2c")])
def test_a_device_is_overheard_until_it_answers_anything(scene: Scene, fact: Fact) -> None:
    scene.heard = Heard((NEW,))
    target = device()

    async def answer() -> None:
        await asyncio.sleep(0.5)
        scene.asks = ("192.0.2.1",)
        await target.learnt.add(fact)

    began = time.monotonic()
    assert scene.collected(target, connected=False, meanwhile=answer)[0][1].asks == ("192.0.2.1",)
    assert 0.4 < time.monotonic() - began < 0.8


def test_a_device_that_answers_nothing_is_overheard_as_long_as_its_ports_are_waited_for(scene: Scene) -> None:
    scene.heard = Heard((NEW,))
    began = time.monotonic()
    scene.collected(device(), connected=False)
    assert SILENT_AFTER_S < time.monotonic() - began < SILENT_AFTER_S + 0.3


def test_nobody_is_not_overheard(scene: Scene) -> None:
    scene.heard = Heard(())
    began = time.monotonic()
    scene.collected(device(), connected=False)
    assert time.monotonic() - began < 0.2
