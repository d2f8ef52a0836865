"""`netcheck ready` where the link is at fault: the root is named first, by an administrator and by whoever is none.

Every fault is put into the site, looked at with iproute2 or iputils, and only then with netcheck.
"""

import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from . import visit
from .office import Office
from .site import JACKS
from .visit import Answer

NEW, OURS = JACKS["new"], JACKS["workstation"]
INSIDE = Path(__file__).parent / "inside"
NOBODY = ("setpriv", "--reuid=65534", "--regid=65534", "--clear-groups", "--bounding-set=-all")


def ready(office: Office, *options: str, nobody: bool = False) -> Answer:
    """`netcheck ready` at the workstation, as root or as a user who may do nothing."""
    argv, saved = visit.command(office, *options)
    saved.parent.chmod(0o777)
    start = argv.index(sys.executable)
    own = [*(NOBODY if nobody else ()), sys.executable, str(INSIDE / "judged.py"), *argv[start + 3 :]]
    done = subprocess.run(
        [*argv[:start], *own], env=visit.environment(office), capture_output=True, text=True, timeout=60
    )
    assert saved.exists(), done.stdout + done.stderr
    return Answer(done.returncode, done.stdout, done.stderr, saved)


def roots(answer: Answer) -> list[str]:
    """What is in the way or missing and nothing else explains, heaviest first; notes left out."""
    return [
        f"{each['id']}/{each['item']}".rstrip("/")
        for each in answer.findings
        if each["state"] != "met" and each["gate"] != "leave" and each["weight"] != "note" and not each["causes"]
    ]


def notes(answer: Answer) -> list[str]:
    """The notes that are not met, by their rule."""
    return [each["id"] for each in answer.findings if each["state"] != "met" and each["weight"] == "note"]


@pytest.mark.parametrize("nobody", [False, True], ids=["administrator", "nobody"])
def test_a_sound_link_is_ready_for_both_readers(office: Office, *, nobody: bool) -> None:
    answer = ready(office, nobody=nobody)
    assert (answer.code, answer.state, roots(answer)) == (0, "ready", []), answer.page
    assert notes(answer) == (["link.owner"] if nobody else []), answer.page
    assert answer.complaints == ""
    office.assert_no_byte_was_printed()


@dataclass(frozen=True)
class Case:
    """A fault of the link, how to have it, how to see that it is there, and the root that must be named."""

    name: str
    have: Callable[[Office], object]
    true: Callable[[Office], bool]
    root: str
    readers: tuple[bool, ...] = (False, True)
    options: tuple[str, ...] = ()


def share(office: Office) -> None:
    office.site.ip("gateway", f"addr add {NEW.address}/24 dev eth0")


def said(office: Office, *argv: str) -> str:
    return office.site.run("workstation", *argv).stdout


def no_answer(office: Office) -> bool:
    return office.site.run("workstation", "ping", "-c1", "-W1", NEW.address).returncode != 0


CASES = (
    Case(
        "two machines at the address",
        share,
        lambda office: NEW.address in office.site.run("gateway", "ip", "addr").stdout,
        "link.owner",
        readers=(False,),
    ),
    Case(
        "the device's cable is out",
        lambda office: office.site.plug("new", connected=False),
        no_answer,
        "link.neighbour",
    ),
    Case(
        "our own cable is out",
        lambda office: office.site.plug("workstation", connected=False),
        lambda office: "NO-CARRIER" in said(office, "ip", "link", "show", "eth0"),
        "link.up",
    ),
    Case(
        "our own mask is too narrow",
        lambda office: office.site.configure("workstation", f"{OURS.address}/28"),
        lambda office: "via" in said(office, "ip", "route", "get", NEW.address),
        "link.here/mask",
    ),
    Case(
        "we gave ourselves an address",
        lambda office: office.site.configure("workstation", "169.254.7.9/16", gateway=None),
        lambda office: "169.254.7.9" in said(office, "ip", "addr"),
        "link.self-assigned",
    ),
    Case(
        "we stand on another network",
        lambda office: office.site.configure("workstation", "198.51.100.7/24", gateway="198.51.100.1"),
        lambda office: "via" in said(office, "ip", "route", "get", NEW.address),
        "link.here",
    ),
)


@pytest.mark.parametrize(
    ("case", "nobody"),
    [
        pytest.param(case, nobody, id=f"{case.name}-{'nobody' if nobody else 'administrator'}")
        for case in CASES
        for nobody in case.readers
    ],
)
def test_the_fault_of_the_link_is_the_root(office: Office, case: Case, *, nobody: bool) -> None:
    case.have(office)
    assert case.true(office)
    answer = ready(office, nobody=nobody)
    assert roots(answer) == [case.root], answer.page
    # From another network silence proves nothing; the rest is in the way.
    assert answer.state == ("cannot-tell" if case.root == "link.here" else "not-ready"), answer.page
    assert answer.page.splitlines()[0].startswith(answer.state.upper().replace("-", " "))


def test_a_machine_that_took_the_new_ones_place_is_known_by_its_hardware_address(office: Office) -> None:
    """Seen in the morning, and then another machine answers at the address: by the table alone, without privilege."""
    answer = ready(office)
    morning = answer.saved.rename(answer.saved.with_name("morning.json"))
    morning.chmod(0o644)
    office.site.plug("new", connected=False)
    share(office)
    office.site.ip("workstation", "neigh flush dev eth0")
    time.sleep(2)  # what is seen within two seconds counts as one look
    answer = ready(office, "--with", str(morning), nobody=True)
    finding = next(each for each in answer.findings if each["id"] == "link.mac-agrees")
    assert finding["state"] == "unmet", answer.page
    assert JACKS["gateway"].mac in finding["title"]
    assert NEW.mac in finding["detail"]
    assert roots(answer)[0] == "link.mac-agrees", answer.page
