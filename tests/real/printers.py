"""The IPP side of a printer: `ippeveprinter` (of CUPS) describing one of the invented devices.

It is told what to describe by a file of attributes (`-a`), which it reads once: `become` starts it anew with another.
Only printer-state-reasons cannot stand in that file. They are set by a job, whose print command says them (`STATE:`,
ippeveprinter(1)): that takes every reason, where the program's web forms know media and supplies alone. Such a job
stays in the printer's history as completed. The program never reports itself stopped: with reasons set it is idle, and
the reasons carry the suffix `-report`.

It does not start without a D-Bus, and needs Avahi only to announce itself, which costs a second of host-name probing.
"""

from pathlib import Path
from types import TracebackType
from typing import Final, Self

from .attributes import attributes
from .devices import Device
from .programs import Program, until
from .site import Node, Site

PORT: Final = 631
PRESS: Final = Path(__file__).parent / "inside/press.sh"
_BUS: Final = """<busconfig><type>system</type><listen>unix:path={folder}/bus</listen><auth>EXTERNAL</auth>
<policy context="default"><allow user="*"/><allow own="*"/><allow send_destination="*"/><allow receive_sender="*"/>
<allow send_type="method_call"/><allow send_type="signal"/>
<allow send_requested_reply="true" send_type="method_return"/>
<allow send_requested_reply="true" send_type="error"/></policy></busconfig>
"""
_AVAHI: Final = """[server]
host-name={host}
allow-interfaces=eth0
[wide-area]
enable-wide-area=no
[publish]
publish-hinfo=no
publish-workstation=no
"""
# Avahi's socket and its static services have fixed places; the mount table of `ip netns exec` makes them private.
_PRIVATE_AVAHI: Final = (
    "mkdir -p /run/avahi-daemon && mount -t tmpfs none /run/avahi-daemon && mount -t tmpfs none /etc/avahi/services"
    ' && exec avahi-daemon -f "$1" --no-drop-root --no-chroot --no-rlimits'
)
_STATE_JOB: Final = """{{
NAME "Set the printer's state reasons"
OPERATION Print-Job
GROUP operation-attributes-tag
ATTR charset attributes-charset utf-8
ATTR naturalLanguage attributes-natural-language en
ATTR uri printer-uri $uri
ATTR mimeMediaType document-format image/pwg-raster
FILE {reasons}
STATUS successful-ok
}}
"""


class Printer:
    """A printer for `device` at ipp://address/ipp/print and ipps (both on port 631), up between `with` and its end.

    `announced` also offers it by DNS-SD, where it is found a second or two later.
    """

    def __init__(self, site: Site, node: Node, device: Device, *, announced: bool = False) -> None:
        self.device = device
        self.announced: Final = announced
        self._site: Final = site
        self._node: Final = node
        self._folder: Final = site.folder / f"ipp-{node}"
        self._host: Final = f"{node}-printer"
        self._helpers: list[Program] = []
        self._program: Program | None = None

    def __enter__(self) -> Self:
        for name in (".", "spool", "keys"):
            (self._folder / name).mkdir()
        # A host name of its own for each device: its UUID is made from that. It listens where the name leads.
        self._site.name_hosts(self._node, {"0.0.0.0": self._host, "::": self._host})
        self._start_bus()
        if self.announced:
            self._start_avahi()
        self.become(self.device)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for program in (self.program, *self._helpers[::-1]):
            program.end()

    @property
    def program(self) -> Program:
        assert self._program, "the printer is not up"
        return self._program

    def become(self, device: Device) -> None:
        """Describe `device` from now on. AssertionError when the program does not take the description."""
        if self._program:
            self._program.end()
        (self._folder / "printer.conf").write_text(attributes(device))
        (self._folder / "reasons").write_text(",".join(device.reasons) or "none")
        self._program = self._start(device)
        self._program.until_listening("tcp", PORT)
        # It goes on without the rest of a file that it cannot read.
        assert "Bad ATTR syntax" not in self._program.output, self._program.output
        if device.reasons:
            self._set_reasons()
        self.device = device

    def _start(self, device: Device) -> Program:
        folder = self._folder
        options: list[str | Path] = ["-n", self._host, "-p", str(PORT), "-a", folder / "printer.conf"]
        places: list[str | Path] = ["-d", folder / "spool", "-K", folder / "keys", "-c", PRESS]
        subtypes = [] if self.announced else ["-r", "off"]
        env = {**self._bus, "REASONS": str(folder / "reasons"), "HOME": str(folder)}
        command = ["ippeveprinter", "-v", *options, *places, *subtypes, device.name]
        return self._site.start(self._node, "ippeveprinter", *command, env=env)

    def _set_reasons(self) -> None:
        job = self._folder / "state.test"
        job.write_text(_STATE_JOB.format(reasons=self._folder / "reasons"))
        done = self._site.run(self._node, "ipptool", "-t", f"ipp://127.0.0.1:{PORT}/ipp/print", job)
        assert done.returncode == 0, done.stdout + done.stderr
        self.program.until_said("completed successfully")

    # --- what it needs beside it

    @property
    def _bus(self) -> dict[str, str]:
        return {"DBUS_SYSTEM_BUS_ADDRESS": f"unix:path={self._folder}/bus"}

    def _start_bus(self) -> None:
        configuration = self._folder / "dbus.conf"
        configuration.write_text(_BUS.format(folder=self._folder))
        options = [f"--config-file={configuration}", "--nofork", "--nopidfile"]
        self._helpers.append(self._site.start(self._node, "dbus", "dbus-daemon", *options))
        until((self._folder / "bus").exists, 5, f"the D-Bus of {self._node}")

    def _start_avahi(self) -> None:
        configuration = self._folder / "avahi.conf"
        configuration.write_text(_AVAHI.format(host=self._host))
        command = ("sh", "-c", _PRIVATE_AVAHI, "private-avahi", configuration)
        self._helpers.append(self._site.start(self._node, "avahi", *command, env=self._bus))
        self._helpers[-1].until_said("Server startup complete")
