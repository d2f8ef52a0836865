"""Causes at the device's services: closed, filtered, busy, hung; and names that lead nowhere, or elsewhere."""

import os
import sys
from dataclasses import replace
from pathlib import Path
from typing import Final

from .causes import Cause, Scene, Shown, nothing
from .causes_link import simply
from .causes_path import filtered
from .devices import HALDEN
from .raw import PORT as RAW
from .site import JACKS
from .visit import MOVE, STANDARD

NEW, OLD = JACKS["new"], JACKS["old"]
INSIDE: Final = Path(__file__).parent / "inside"
NAME: Final = "halden-36r.example"
BY_NAME: Final = MOVE.replace(f'[new]\nhost = "{NEW.address}"', f'[new]\nhost = "{NAME}"')
REFUSED: Final = Shown("workstation", f"nc -zv -w2 {NEW.address} {RAW}", "refused")
UNHEARD: Final = Shown("workstation", f"nc -zv -w2 {NEW.address} {RAW}", "timed out|in progress")
PRINTING: Final = replace(HALDEN, printer_status=4)  # RFC 2790, hrPrinterStatus: printing
HOLD: Final = (
    "import socket, sys; s = socket.create_connection((sys.argv[1], 9100)); print('held', flush=True); s.recv(1)"
)
SILENT_AGENT: Final = Shown(
    "workstation", f"snmpget -v2c -c public -t1 -r0 {NEW.address} 1.3.6.1.2.1.1.1.0", "Timeout|No Resp"
)


def hung(scene: Scene) -> None:
    """Its system still takes connections, and nobody fetches them."""
    machine = scene.office.new
    for program in (machine.printer.program, machine.agent.program, machine.raw.program):
        program.pause()


def printing(scene: Scene, manner: str, sessions: int) -> None:
    """A job is being printed, from the stranger, and the raw port has no place for another."""
    machine, site = scene.office.new, scene.site
    machine.raw.program.end()
    busy_ipp(scene)
    machine.agent.become(PRINTING)
    port = site.start("new", "one-session", _PYTHON, "-I", INSIDE / "one_session.py", str(RAW), manner)
    port.until_said("listening")
    for _ in range(sessions):
        site.start("stranger", "job", _PYTHON, "-I", "-c", HOLD, NEW.address).until_said("held")
    port.until_said("serving")


_PYTHON: Final = os.path.realpath(sys.executable)


def busy_ipp(scene: Scene) -> None:
    """A job that never ends: the print command of ippeveprinter waits for reasons that do not come."""
    site, folder = scene.site, scene.site.folder / "ipp-new"
    (folder / "reasons").unlink()
    os.mkfifo(folder / "reasons")
    job = folder / "busy.test"
    job.write_text(_JOB)
    site.run(
        "new", "ipptool", "-t", "-f", str(folder / "printer.conf"), "ipp://127.0.0.1/ipp/print", job
    ).check_returncode()
    scene.later.callback(_let_go, folder / "reasons")
    scene.office.new.printer.program.until_said("Running command", 3)


_JOB: Final = """{
NAME "A long job"
OPERATION Print-Job
GROUP operation-attributes-tag
ATTR charset attributes-charset utf-8
ATTR naturalLanguage attributes-natural-language en
ATTR uri printer-uri $uri
ATTR mimeMediaType document-format image/pwg-raster
FILE $filename
STATUS successful-ok
}
"""


def _let_go(reasons: Path) -> None:
    """Whoever still reads there reads to the end."""
    try:
        os.close(os.open(reasons, os.O_WRONLY | os.O_NONBLOCK))
    except OSError:
        return  # nobody does


def unknown_name(scene: Scene) -> None:
    scene.site.start("workstation", "names", _PYTHON, "-I", INSIDE / "no_names.py").until_said("listening")


def raw_off(scene: Scene) -> None:
    scene.office.new.raw.program.end()


WITHOUT_SNMP: Final = STANDARD.replace("[snmp]\nrequired = true\n", "")
BUSY: Final = simply("services.busy*|services.required/raw", states=("cannot-tell",), words=("prints", "Wait until"))
RAW_ROOT: Final = "services.required/raw"
PORTS: Final = (
    Cause(
        "a firewall drops only the raw port",
        filtered(f"tcp dport {RAW} counter drop"),
        (UNHEARD, Shown("new", "nft list ruleset", "counter packets [1-9]")),
        *simply(RAW_ROOT, words=("9100", "did not answer", "firewall")),
    ),
    Cause(
        "a firewall forbids the raw port, and says so",
        filtered(f"tcp dport {RAW} counter reject with icmp type admin-prohibited"),
        (Shown("workstation", f"nc -zv -w2 {NEW.address} {RAW}", "No route|[Uu]nreachable|prohibited"),),
        *simply(RAW_ROOT, words=("9100", "firewall")),
    ),
    Cause(
        "a firewall resets the raw port",
        filtered(f"tcp dport {RAW} counter reject with tcp reset"),
        (REFUSED, Shown("new", "nft list ruleset", "counter packets [1-9]")),
        *simply(RAW_ROOT, words=("refused", "Switch raw on", "firewall")),
    ),
    Cause(
        "the raw service is off",
        raw_off,
        (REFUSED, Shown("new", "ss -tln", ":631")),
        *simply(RAW_ROOT, words=("refused", "Switch raw on")),
    ),
    Cause(
        "SNMP is blocked, and the Standard wants it",
        filtered("udp dport 161 counter drop"),
        (SILENT_AGENT, Shown("new", "nft list ruleset", "counter packets [1-9]")),
        *simply("services.snmp|services.snmp-required", states=("cannot-tell",), words=("161",)),
    ),
    Cause(
        "SNMP is blocked, and nobody wants it",
        filtered("udp dport 161 counter drop"),
        (SILENT_AGENT, Shown("new", "nft list ruleset", "counter packets [1-9]")),
        *simply("services.snmp", states=("ready-with-care", "cannot-tell"), words=("161",)),
        standard=WITHOUT_SNMP,
    ),
    Cause(
        "the device hangs",
        hung,
        (Shown("workstation", f"nc -zv -w2 {NEW.address} 631", "succeeded|open"), SILENT_AGENT),
        *simply(
            "services.ipp-required|services.ipp",
            states=("cannot-tell", "not-ready"),
            also=("services.snmp*",),
            words=("hang",),
        ),
    ),
    Cause(
        "the device prints, and refuses a second session",
        lambda scene: printing(scene, "refuse", 1),
        (REFUSED, Shown("new", "ss -tn", f":{RAW}")),
        *BUSY,
    ),
    Cause(
        "the device prints, and lets a second session wait",
        lambda scene: printing(scene, "wait", 2),
        (UNHEARD, Shown("new", "ss -tn", f":{RAW}")),
        *BUSY,
    ),
)
NAMES: Final = (
    Cause(
        "a name that does not exist",
        unknown_name,
        (Shown("workstation", f"ping -c1 {NAME}", "Name or service not known"),),
        *simply("services.name", words=(NAME,)),
        move=BY_NAME,
    ),
    Cause(
        "a name, and no name server that answers",
        nothing,
        (Shown("workstation", f"ping -c1 {NAME}", "Temporary failure in name resolution"),),
        *simply("services.name", states=("cannot-tell",), words=(NAME,)),
        move=BY_NAME,
    ),
    Cause(
        "a name that leads to the old device",
        lambda scene: scene.site.name_hosts("workstation", {OLD.address: NAME}),
        (Shown("workstation", f"getent hosts {NAME}", OLD.address),),
        *simply(
            "identity.is-old|services.name",
            words=(f"{NAME} leads to", "Corvid"),
            below=("identity.*", "media.*", "supplies.*"),
            # The old device is where it belongs: what is wrong is the name.
            unsaid=("Unplug the old",),
        ),
        move=BY_NAME,
    ),
)
CAUSES: Final = (*PORTS, *NAMES)
