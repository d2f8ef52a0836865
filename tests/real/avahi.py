"""An independent responder for DNS-SD: Avahi with a D-Bus of its own, announcing static services (avahi.service(5))."""

from pathlib import Path
from types import TracebackType
from typing import Final, Self
from xml.sax.saxutils import escape

from .printers import _AVAHI, _BUS
from .programs import Program, until
from .site import Node, Site

Txt = tuple[str | bytes, ...]
# The mount table of `ip netns exec` makes both places private to this daemon.
_PRIVATE: Final = (
    "mkdir -p /run/avahi-daemon && mount -t tmpfs none /run/avahi-daemon && mount --bind $2 /etc/avahi/services"
    ' && exec avahi-daemon -f "$1" --no-drop-root --no-chroot --no-rlimits'
)


def service(kind: str, port: int, *txt: str | bytes, subtypes: tuple[str, ...] = ()) -> str:
    """One <service>; a TXT string that is not text is given in Avahi's own form of binary values."""
    keys = "".join(
        f"<txt-record>{escape(each)}</txt-record>"
        if isinstance(each, str)
        else f'<txt-record value-format="binary-hex">{each.partition(b"=")[0].decode()}={each.partition(b"=")[2].hex()}'
        "</txt-record>"
        for each in txt
    )
    also = "".join(f"<subtype>{subtype}._sub.{kind}</subtype>" for subtype in subtypes)
    return f"<service><type>{kind}</type>{also}<port>{port}</port>{keys}</service>"


class Avahi:
    """A responder on one machine, up between `with` and its end; `name` is what all of its services are called."""

    def __init__(self, site: Site, node: Node, host: str, name: str, *services: str) -> None:
        self.program: Program
        self._site: Final = site
        self._node: Final = node
        self._folder: Final = site.folder / f"avahi-{node}-{host}"
        self._host: Final = host
        self._name: Final = name
        self._services: Final = services
        self._bus: Program

    def __enter__(self) -> Self:
        (self._folder / "services").mkdir(parents=True)
        group = f'<name replace-wildcards="no">{escape(self._name)}</name>{"".join(self._services)}'
        (self._folder / "services/site.service").write_text(f"<service-group>{group}</service-group>")
        self._start_bus()
        configuration = self._folder / "avahi.conf"
        configuration.write_text(_AVAHI.format(host=self._host))
        command = ("sh", "-c", _PRIVATE, "private-avahi", configuration, self._folder / "services")
        env = {"DBUS_SYSTEM_BUS_ADDRESS": f"unix:path={self._folder}/bus"}
        self.program = self._site.start(self._node, "avahi", *command, env=env)
        # It says that it is up a second before it has claimed the services' names.
        self.program.until_said("successfully established")
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.program.end()
        self._bus.end()

    @property
    def established(self) -> str:
        """The name that it ended up with, from its own log: another one where it met a conflict."""
        lines = [line for line in self.program.output.splitlines() if "successfully established" in line]
        return lines[-1].partition('Service "')[2].partition('"')[0]

    def _start_bus(self) -> None:
        configuration = self._folder / "dbus.conf"
        configuration.write_text(_BUS.format(folder=self._folder))
        options = [f"--config-file={configuration}", "--nofork", "--nopidfile"]
        self._bus = self._site.start(self._node, "dbus", "dbus-daemon", *options)
        until((Path(self._folder) / "bus").exists, 5, f"the D-Bus of {self._node}")
