"""The workstation's print spooler: a `cupsd` of its own, with whatever queues a test gives it.

It listens where programs expect it (127.0.0.1:631, inside the workstation's namespace) and on a socket for `lp` and
its kin. A queue's driver is either a PPD file of an invented driver, or what CUPS makes of the printer itself
(`everywhere`), which it fetches in its own time after `lpadmin` has returned.
"""

import re
import shutil
import subprocess
from pathlib import Path
from types import TracebackType
from typing import Final, Literal, Self

from .devices import Device
from .programs import Program, until
from .site import Site

HERE: Final = "workstation"
PORT: Final = 631
_FOLDERS: Final = ("root/ppd", "root/ssl", "spool/tmp", "cache", "state", "log")
_FILES: Final = """SystemGroup root
ServerRoot {0}/root
RequestRoot {0}/spool
TempDir {0}/spool/tmp
CacheDir {0}/cache
StateDir {0}/state
ErrorLog {0}/log/error
AccessLog {0}/log/access
PageLog {0}/log/page
ServerKeychain {0}/root/ssl
"""
# DirtyCleanInterval: what changes is on disk at once. The default policy would ask for passwords.
_CONFIGURATION: Final = """Listen 127.0.0.1:{1}
Listen {0}/socket
LogLevel debug
Browsing Off
WebInterface No
DefaultAuthType None
DirtyCleanInterval 0
JobRetryInterval 5
IdleExitTimeout 0
<Location />
Order allow,deny
Allow all
</Location>
<Policy default>
JobPrivateAccess all
JobPrivateValues none
<Limit All>
Order deny,allow
</Limit>
</Policy>
"""
_PPD: Final = """*PPD-Adobe: "4.3"
*FormatVersion: "4.3"
*FileVersion: "{version}"
*LanguageVersion: English
*LanguageEncoding: ISOLatin1
*PCFileName: "{maker}.PPD"
*Manufacturer: "{maker}"
*Product: "({name})"
*ModelName: "{name}"
*ShortNickName: "{name}"
*NickName: "{name}, version {version}"
*PSVersion: "(3010.000) 0"
*LanguageLevel: "3"
*ColorDevice: True
*DefaultColorSpace: RGB
*FileSystem: False
*Throughput: "1"
*LandscapeOrientation: Plus90
*TTRasterizer: Type42
*OpenUI *PageSize/Media Size: PickOne
*OrderDependency: 10 AnySetup *PageSize
*DefaultPageSize: ARCHD
*PageSize ARCHD/Arch D: "<</PageSize[1728 2592]>>setpagedevice"
*CloseUI: *PageSize
*OpenUI *PageRegion: PickOne
*OrderDependency: 10 AnySetup *PageRegion
*DefaultPageRegion: ARCHD
*PageRegion ARCHD/Arch D: "<</PageSize[1728 2592]>>setpagedevice"
*CloseUI: *PageRegion
*DefaultImageableArea: ARCHD
*ImageableArea ARCHD/Arch D: "14 14 1714 2578"
*DefaultPaperDimension: ARCHD
*PaperDimension ARCHD/Arch D: "1728 2592"
*DefaultFont: Courier
*Font Courier: Standard "(002.004S)" Standard ROM
"""


class Spooler:
    """A spooler without a queue, up between `with` and its end."""

    def __init__(self, site: Site) -> None:
        self.program: Program
        self.folder: Final = site.folder / "cups"
        self._site: Final = site

    def __enter__(self) -> Self:
        for name in _FOLDERS:
            (self.folder / name).mkdir(parents=True)
        for path in self.folder.rglob("*"):
            shutil.chown(path, group="lp")  # filters run as that group
        (self.folder / "spool/tmp").chmod(0o1777)
        (self.folder / "cache").chmod(0o770)
        (self.folder / "root/cups-files.conf").write_text(_FILES.format(self.folder))
        (self.folder / "root/cupsd.conf").write_text(_CONFIGURATION.format(self.folder, PORT))
        options = ("-f", "-c", self.folder / "root/cupsd.conf", "-s", self.folder / "root/cups-files.conf")
        self.program = self._site.start(HERE, "cupsd", "cupsd", *options)
        self.program.until_listening("tcp", PORT)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.program.end()

    # --- queues

    def add(self, queue: str, uri: str, driver: Device | Literal["everywhere"], version: str = "3.2") -> None:
        """A queue that is enabled and accepts jobs. With `everywhere` the printer must be up."""
        if driver == "everywhere":
            self.do("lpadmin", "-p", queue, "-E", "-v", uri, "-m", "everywhere")
        else:
            model = self.folder / f"{queue}.ppd"
            model.write_text(_PPD.format(maker=driver.maker, name=driver.name, version=version))
            self.do("lpadmin", "-p", queue, "-E", "-v", uri, "-P", str(model))
        until((self.folder / f"root/ppd/{queue}.ppd").exists, 5, f"the driver of queue {queue}")

    def point(self, queue: str, uri: str) -> None:
        """Lead the queue elsewhere, and nothing else: its driver and its jobs stay."""
        self.do("lpadmin", "-p", queue, "-v", uri)

    def disable(self, queue: str, why: str = "Held for the swap") -> None:
        self.do("cupsdisable", "-r", why, queue)

    def enable(self, queue: str) -> None:
        self.do("cupsenable", queue)

    def reject(self, queue: str) -> None:
        self.do("cupsreject", queue)

    def accept(self, queue: str) -> None:
        self.do("cupsaccept", queue)

    # --- jobs

    def submit(self, queue: str, title: str, *, hold: bool = False) -> str:
        """Send a page of text; the job's name, such as `Plans-1`."""
        options = ("-H", "hold") if hold else ()
        said = self.do("lp", "-d", queue, "-t", title, *options, text=f"{title}\n")
        found = re.search(r"request id is (\S+)", said)
        assert found, said
        return found[1]

    # --- asking it

    def do(self, *argv: str, text: str = "") -> str:
        """Run one of CUPS's commands as the workstation's user would; AssertionError with what it complained of."""
        done = self._cups(argv, text)
        assert done.returncode == 0, f"{' '.join(argv)}: {done.stderr}"
        return done.stdout

    def _cups(self, argv: tuple[str, ...], text: str) -> subprocess.CompletedProcess[str]:
        env = {"CUPS_SERVER": f"{self.folder}/socket", "HOME": str(self.folder), "LC_ALL": "C"}
        return self._site.run(HERE, *argv, env=env, text=text)

    @property
    def log(self) -> Path:
        return self.folder / "log/error"
