"""The command line: parse, hand over, print, exit code. Imports only click until a command runs.

Exit codes: 0 ready (with or without care), 1 not ready, 3 cannot tell, 2 the command or an input file is wrong, 4 the
tool itself failed, 130 interrupted after saving and printing what was gathered.
"""

import contextlib
import io
import signal
import sys
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from netcheck import __version__
from netcheck.streams import complain, emit, flush, is_full, ready_streams, refusal, silence

if TYPE_CHECKING:
    from netcheck.errors import InputError

__all__ = ["emit", "main", "run"]

WRONG_INPUT, TOOL_FAILED, INTERRUPTED = 2, 4, 130
GATES = ("survey", "fill", "swap", "leave", "standing")
FAIL_ON = ("not-ready", "cannot-tell", "news", "never")
_FILE = click.Path(path_type=Path)
_NIGHTS = click.IntRange(1, 3660)
C = TypeVar("C", bound=Callable[..., Any])


def _options(*options: Callable[[C], C]) -> Callable[[C], C]:
    def apply(command: C) -> C:
        for option in reversed(options):
            command = option(command)
        return command

    return apply


_output = _options(
    click.option("--json", "as_json", is_flag=True, help="Print the saved document instead of the page."),
    click.option("--save", type=_FILE, metavar="FILE", help="Save the document that --json prints."),
    click.option("--quiet", is_flag=True, help="Print the answer only."),
    click.option("--no-color", is_flag=True, help="No colour (also NO_COLOR)."),
)
_asking = _options(
    click.option("--port", "ports", multiple=True, metavar="[ROLE.]SERVICE=N", help="A service on another port."),
    click.option("--timeout", type=click.FloatRange(0.1, 600), default=10.0, show_default=True, metavar="SECONDS"),
    click.option("--with", "others", type=_FILE, multiple=True, metavar="CASE.json", help="Join a saved case."),
)
_standard = click.option("--standard", type=_FILE, metavar="FILE", help="What a finished site is (TOML).")


def _gate(default: str) -> Callable[[C], C]:
    return click.option("--gate", type=click.Choice(GATES), help=f"The step that is asked about.  [default: {default}]")


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="netcheck")
def main() -> None:
    """May the print queue move from the old printer to the new one, and what is in the way?

    Start with `netcheck rehearse`: a simulated site on this machine, judged for real. Then write a Move and ask
    `netcheck ready MOVE.toml`. The tool only reads; nothing is printed and no setting is changed.
    """


@main.command()
@click.argument("move", type=_FILE, required=False, metavar="[MOVE.toml]")
@click.option("--old", metavar="DEVICE", help="The printer that goes: host, address or printing URI.")
@click.option("--new", metavar="DEVICE", help="The printer that comes.")
@click.option("--queue", metavar="NAME", help="The queue that the application prints to.")
@click.option("--request", is_flag=True, help="Print a request for the network's owner instead of the page.")
@_standard
@_gate("swap")
@_asking
@_output
def ready(**options: Any) -> int:
    """May I take the next step? Collect, judge, report: the main job."""
    from netcheck.commands.ready import run_ready

    return run_ready(**options)


@main.command()
@click.argument("device", metavar="DEVICE")
@click.option("--raw", is_flag=True, help="Also the objects behind it, as they came.")
@_asking
@_output
def read(**options: Any) -> int:
    """Everything that one device says about itself."""
    from netcheck.commands.read import run_read

    return run_read(**options)


@main.command()
@click.option("--scan", metavar="NETWORK", help="Also ask every address of it (at most a /22), as 192.0.2.0/24.")
@click.option("--timeout", type=click.FloatRange(0.1, 600), default=10.0, show_default=True, metavar="SECONDS")
@_output
def find(**options: Any) -> int:
    """The printers that can be seen from here, a row each.

    Nothing is scanned but a network that you name with --scan, at 50 addresses a second. The time for that is added to
    --timeout. Have the leave of whoever runs the network.
    """
    from netcheck.commands.find import run_find

    return run_find(**options)


@main.command()
@click.argument("case", type=_FILE, required=False, metavar="CASE.json")
@click.option("--spoken", is_flag=True, help="Type in what was read over the phone; with a file, held against it.")
@click.option("--redact", is_flag=True, help="Replace names, addresses and serial numbers, to show it to others.")
@_standard
@_gate("as it was judged")
@click.option("--with", "others", type=_FILE, multiple=True, metavar="CASE.json", help="Join a saved case.")
@_output
def judge(**options: Any) -> int:
    """Judge a saved case again, offline, by another Standard or at another gate."""
    from netcheck.commands.judge import run_judge

    return run_judge(**options)


@main.command()
@click.argument("before", type=_FILE, metavar="BEFORE.json")
@click.argument("after", type=_FILE, metavar="AFTER.json")
@_standard
@_gate("as AFTER was judged")
@_output
def compare(**options: Any) -> int:
    """What changed between two saved cases, and why. The answer, and the exit code, are AFTER's."""
    from netcheck.commands.compare import run_compare

    return run_compare(**options)


@main.command()
@click.argument("fleet", type=_FILE, required=False, metavar="[FLEET.csv]")
@click.option("--from", "folder", type=_FILE, metavar="FOLDER", help="Also the cases that sites have saved there.")
@click.option("--store", type=_FILE, metavar="FILE", help="Keep every case there (SQLite), and tell what changed.")
@_standard
@click.option("--only", default="", metavar="SITE", help="Only this site, or devices whose key is like a pattern.")
@click.option("--timeout", type=click.FloatRange(0.1, 600), default=10.0, show_default=True, metavar="SECONDS")
@click.option("--limit", type=click.FloatRange(0, 86400), default=0, metavar="SECONDS", help="For the whole sweep.")
@click.option("--rate", type=click.IntRange(0, 10000), default=0, metavar="N", help="At most N new devices a second.")
@click.option(
    "--workers", type=click.IntRange(0, 256), default=0, metavar="N", help="Processes.  [default: one a core]"
)
@click.option("--resume", is_flag=True, help="Go on with the last sweep of this fleet where it ended.")
@click.option("--since", "nights", type=_NIGHTS, default=1, metavar="N", help="Compare with N nights ago.")
@click.option("--keep", type=_NIGHTS, default=90, show_default=True, metavar="NIGHTS", help="In the store.")
@click.option("--html", type=_FILE, metavar="FILE", help="An overview for a browser, in one file.")
@click.option("--csv", type=_FILE, metavar="FILE", help="A table for a spreadsheet.")
@click.option("--metrics", type=_FILE, metavar="FILE", help="OpenMetrics text for a collector.")
@click.option("--json", "as_json", is_flag=True, help="Print a line of JSON a device instead of the page.")
@click.option("--case", metavar="KEY", help="Print the last saved case of one device out of the store.")
@click.option(
    "--fail-on",
    type=click.Choice(FAIL_ON),
    default=FAIL_ON[0],
    show_default=True,
    help="Exit code 1 or 3 for these only; news: newly not ready, from the second night on.",
)
@click.option("--quiet", is_flag=True, help="Print the answer only, and no progress.")
@click.option("--no-color", is_flag=True, help="No colour (also NO_COLOR).")
def sweep(**options: Any) -> int:
    """The question for a whole fleet, unattended: ask, store, tell what changed. Without a fleet: the last night again.

    Each device is asked once, all of them many at a time, round the sites. Ctrl-C and SIGTERM let what is in flight be
    finished and stored, and say what was left.
    """
    from netcheck.commands.sweep import Asked, run_sweep
    from netcheck.commands.sweep_outputs import Outputs

    source = click.get_current_context().get_parameter_source
    given = frozenset(name for name in options if source(name) is not click.core.ParameterSource.DEFAULT)
    outputs = Outputs(**{name: options.pop(name) for name in Outputs.__struct_fields__})
    store, case = options.pop("store"), options.pop("case")
    return run_sweep(Asked(**options, given=given), store, case, outputs)


@main.command()
@click.argument("finding", required=False, metavar="[FINDING]")
def explain(finding: str | None) -> int:
    """What a finding means (its id, or the number that was read out), why it matters, what to do, and which source says
    so. Without one: all of them."""
    from netcheck.commands.explain import run_explain

    return run_explain(finding)


@main.command()
@click.argument("kind", required=False, metavar="[KIND]")
def schema(kind: str | None) -> int:
    """The JSON Schema of a saved document (case, found, difference, swept), or of one kind of fact."""
    from netcheck.commands.schema import run_schema

    return run_schema(kind)


@main.command()
@click.argument("scenario", required=False, metavar="[SCENARIO]")
@click.option("--list", "list_them", is_flag=True, help="Name and meaning of every scenario.")
@click.option("--all", "all_of_them", is_flag=True, help="Play all of them, a line each.")
@click.option("--hold", is_flag=True, help="Keep the site up, to try the other commands on.")
@click.option("--fleet", type=int, metavar="N", help="So many simulated devices instead, swept.")
@_output
def rehearse(**options: Any) -> int:
    """A simulated site on this machine, speaking the real protocols, judged for real."""
    from netcheck.commands.rehearse import run_rehearse

    return run_rehearse(**options)


def run() -> None:
    """Entry point of the console script: every way to end has its exit code."""
    if sys.flags.optimize > 1:
        # What to do, and what to be careful of, are the rules' docstrings: without them the page would just be shorter.
        complain("netcheck: Python's -OO (PYTHONOPTIMIZE=2) drops what netcheck tells people to do: leave it out")
        sys.exit(WRONG_INPUT)
    ready_streams()
    with contextlib.suppress(ValueError, OSError):
        # Whoever ends us by SIGTERM (timeout, cron) wants what was gathered as much as who presses Ctrl-C.
        signal.signal(signal.SIGTERM, _terminated)
    sys.exit(_guarded(sys.argv[1:]))


def _terminated(*_: object) -> None:
    """As Ctrl-C does; also where a shell that put us in the background had us ignore that (POSIX.1 2.11)."""
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        raise KeyboardInterrupt
    signal.raise_signal(signal.SIGINT)


def _guarded(arguments: list[str]) -> int:
    from netcheck.errors import InputError
    from netcheck.secret import harmless

    try:
        code = main.main(arguments, prog_name="netcheck", standalone_mode=False)
        flush()
    except click.ClickException as error:
        error.show(quotes := io.StringIO())
        complain(harmless(quotes.getvalue().removesuffix("\n")))
        return WRONG_INPUT
    except InputError as error:
        return _refused(error)
    except (KeyboardInterrupt, click.Abort):
        return INTERRUPTED
    except BrokenPipeError:
        silence(sys.stdout)
        return TOOL_FAILED
    except Exception as error:  # noqa: BLE001 - the last guard: what gets here is our own fault, and says so
        if isinstance(error, OSError) and is_full(error):  # also click's `--help`, which is no `emit`
            return _refused(refusal(str(error.filename or "a full disk"), error))
        where = traceback.extract_tb(error.__traceback__)[-1]
        fault = f"{type(error).__name__}: {error} ({Path(where.filename).name}:{where.lineno})"
        complain(f"netcheck itself failed, not your input: {harmless(fault)}")
        return TOOL_FAILED
    return code if isinstance(code, int) else 0


def _refused(error: "InputError") -> int:
    from netcheck.secret import harmless

    for complaint in error.complaints:
        complain(f"netcheck: {harmless(str(complaint))}")
    return WRONG_INPUT
