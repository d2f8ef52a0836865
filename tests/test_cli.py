"""The command line: exit codes, the first line, and what a wrong input is told."""

import json
import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from netcheck import rules as _rules  # noqa: F401 - importing it fills RULES
from netcheck.cli import _guarded, main
from netcheck.ruling import RULES

NETCHECK = [sys.executable, "-m", "netcheck"]
Ask = Callable[..., tuple[int, str, str]]


@pytest.fixture
def ask(capsys: pytest.CaptureFixture[str]) -> Ask:
    """Run the command line in this process: (exit code, stdout, stderr)."""

    def run(*arguments: object) -> tuple[int, str, str]:
        code = _guarded([str(argument) for argument in arguments])
        out = capsys.readouterr()
        assert "Traceback" not in out.out + out.err
        return code, out.out, out.err

    return run


def closed_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["ready"], "--new DEVICE"),
        (["ready", "none.toml"], "none.toml"),
        (["ready", "--new", "192.0.2.661"], "ends in a number"),
        (["ready", "--new", ""], "found nothing"),
        (["ready", "--new", "255.255.255.255"], "no single device"),
        (["ready", "--new", "fe80::1"], "fe80::1%eth0"),
        (["ready", "--new", "a", "--port", "ipp=\u0663"], "SERVICE=N"),
        (["ready", "--new", "a", "--timeout", "nan"], "--timeout"),
        (["ready", "--old", "a"], "--old without --new"),
        (["ready", "--new", "http://["], "--new"),
        (["ready", "--new", "a", "--queue", " "], "--queue"),
        (["ready", "--new", "a", "--port", "ipp"], "SERVICE=N"),
        (["ready", "--new", "a", "--port", "ipp=0"], "1 to 65535"),
        (["ready", "--new", "a", "--old", "b", "--port", "ipp=8631"], "new.ipp=8631"),
        (["ready", "--new", "a", "--port", "new.ftp=21"], "one of ipp"),
        (["ready", "--new", "a", "--gate", "moon"], "survey"),
        (["ready", "--new", "a", "--timeout", "0"], "0.1"),
        (["ready", "--new", "127.0.0.1", "--standard", "none.toml"], "none.toml"),
        (["ready", "--new", "127.0.0.1", "--with", "none.json"], "none.json"),
        (["read", "a..b"], "cannot be a host name"),
        (["read"], "DEVICE"),
        (["judge", "none.json"], "none.json"),
        (["explain", "identity.firmwear"], "identity.firmware"),
        (["schema", "colour"], "one of addresses"),
        (["rehearse", "moon"], "firmware-too-new"),
        (["nonsense"], "nonsense"),
        (["--nonsense"], "nonsense"),
    ],
)
def test_wrong_input_is_exit_code_2_and_says_what_would_be_right(ask: Ask, arguments: list[str], says: str) -> None:
    code, out, err = ask(*arguments)
    assert (code, out) == (2, "")
    assert says in err


def test_help_names_every_command_and_every_command_has_help(ask: Ask) -> None:
    code, out, _ = ask("--help")
    assert code == 0
    for name, command in main.commands.items():
        assert name in out
        assert command.help
        assert ask(name, "--help")[0] == 0


def test_the_readme_documents_every_command() -> None:
    readme = (Path(__file__).resolve().parent.parent / "README.md").read_text("utf-8")
    missing = [name for name in main.commands if f"netcheck {name}" not in readme]
    assert not missing


def test_help_imports_no_network_library() -> None:
    """What --help costs is what it imports."""
    code = (
        "import sys\nfrom netcheck.cli import _guarded\n_guarded(['--help'])\n"
        "print('LOADED', *sorted({name.partition('.')[0] for name in sys.modules}), file=sys.stderr)"
    )
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stderr
    slow = {
        "asyncio",
        "msgspec",
        "pysnmp",
        "pyasn1",
        "zeroconf",
        "scapy",
        "aiohttp",
        "h11",
        "netifaces",
        "ssl",
        "probes",
    }
    assert "LOADED" in loaded
    assert not slow & set(loaded.split())


SCENARIOS = {
    "ready": 0,
    "firmware-too-new": 1,
    "wrong-mask": 1,
    "old-holds-address": 1,
    "out-of-media": 1,
    "waste-full": 1,
    "new-unreachable": 1,
    "snmp-silent": 3,
    "odd-path": 0,
}
ON_TOP = {
    "firmware-too-new": "identity.firmware",
    "wrong-mask": "address.mask",
    "old-holds-address": "address.held",
    "out-of-media": "media.loaded",
    "waste-full": "supplies.empty",
    "new-unreachable": "services.reach",
    "snmp-silent": "services.snmp",
}


@pytest.mark.parametrize("scenario", SCENARIOS)
def test_every_scenario_ends_as_the_contract_says(ask: Ask, tmp_path: Path, scenario: str) -> None:
    saved = tmp_path / "case.json"
    code, out, err = ask("rehearse", scenario, "--save", saved)
    assert code == SCENARIOS[scenario], out
    assert err == ""
    word = {0: "READY", 1: "NOT READY", 3: "CANNOT TELL"}[code]
    assert out.startswith(f"{word}  ")
    assert max(map(len, out.splitlines())) <= 80
    plain = json.loads(saved.read_text("utf-8"))
    if scenario in ON_TOP:
        assert plain["verdict"]["findings"][0]["id"] == ON_TOP[scenario]
    assert not [each for each in plain["attempts"] if each["outcome"] == "failed"]
    code_again, again, _ = ask("judge", saved)
    assert re.search(r", as seen \d{4}-\d\d-\d\d \d\d:\d\d UTC", again), "a saved case says of when it is"
    again, _, last = re.sub(", as seen .* UTC", "", again).rpartition("File: ")
    assert (code_again, again) == (code, out)
    assert "does not show who made it" in " ".join(last.split())


def test_rehearse_lists_name_tab_meaning(ask: Ask) -> None:
    _, out, _ = ask("rehearse", "--list")
    assert [line.split("\t")[0] for line in out.splitlines()] == list(SCENARIOS)


def test_quiet_is_the_answer_only(ask: Ask) -> None:
    assert ask("rehearse", "--quiet")[1] == "READY  You may unplug the old printer.\n"


def test_judging_by_another_standard_and_gate(ask: Ask, tmp_path: Path) -> None:
    saved, strict = tmp_path / "case.json", tmp_path / "strict.toml"
    ask("rehearse", "--save", saved)
    strict.write_text('name = "strict"\n[firmware]\nversion = "5.0"\n', "utf-8")
    code, out, _ = ask("judge", saved, "--standard", strict)
    assert code == 1
    assert "Firmware 4.7.2 is older than 5.0" in out
    code, out, _ = ask("judge", saved, "--gate", "leave")
    assert code == 1
    assert "The new device does not have 192.0.2.21 yet" in out


def test_joined_cases_keep_both(ask: Ask, tmp_path: Path) -> None:
    first, second, both = (tmp_path / name for name in ("a.json", "b.json", "c.json"))
    ask("rehearse", "snmp-silent", "--save", first)
    ask("rehearse", "ready", "--save", second)
    assert ask("judge", first)[0] == 3
    assert ask("judge", first, "--with", second, "--save", both)[0] == 0
    one, two, three = (json.loads(path.read_text("utf-8"))["observations"] for path in (first, second, both))
    assert len(three) == len(one) + len(two)


def test_an_unreachable_device_is_not_ready_and_read_exits_3(ask: Ask) -> None:
    port = closed_port()
    ports = ("--port", f"ipp={port}", "--port", f"raw={port}", "--port", f"snmp={port}")
    assert ask("read", "127.0.0.1", *ports, "--timeout", "2")[0] == 3
    assert ask("ready", "--new", "127.0.0.1", *ports, "--timeout", "2")[0] == 1


def test_save_to_a_folder_that_is_not_there_is_exit_code_2(ask: Ask, tmp_path: Path) -> None:
    code, _, err = ask("rehearse", "--save", tmp_path / "no" / "case.json")
    assert code == 2
    assert "--save" in err


def test_our_own_fault_is_exit_code_4_and_loses_nothing(
    ask: Ask,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    saved = tmp_path / "case.json"

    def broken(*_: object) -> None:
        raise ZeroDivisionError("a bug")

    monkeypatch.setattr("netcheck.commands.telling.judge", broken)
    code, out, err = ask("rehearse", "--save", saved)
    assert (code, out) == (4, "")
    assert "netcheck itself failed" in err
    monkeypatch.undo()
    assert json.loads(saved.read_text("utf-8"))["observations"]
    assert ask("judge", saved)[0] == 0


@pytest.mark.parametrize("identity", RULES)
def test_every_finding_can_be_explained(ask: Ask, identity: str) -> None:
    code, out, _ = ask("explain", identity)
    assert code == 0
    assert "Why" in out
    assert "Source" in out


def test_a_closed_pipe_keeps_the_verdicts_code() -> None:
    process = subprocess.Popen(
        [*NETCHECK, "rehearse", "firmware-too-new"], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    assert process.stdout is not None
    process.stdout.close()
    _, err = process.communicate(timeout=30)
    assert process.returncode == 1
    assert err == b""


class Deaf:
    """A device that accepts every connection and answers nothing."""

    def __init__(self, say: bytes = b"") -> None:
        self._say = say
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._listener.getsockname()[1])
        self._open: list[socket.socket] = []
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self) -> None:
        while True:
            try:
                connection, _ = self._listener.accept()
            except OSError:
                return
            self._open.append(connection)
            if self._say:
                connection.sendall(self._say)

    def close(self) -> None:
        for each in (self._listener, *self._open):
            each.close()


@pytest.mark.parametrize(
    "say", [b"", b"\x00\xffgarbage\r\n\r\n" * 40, b"HTTP/1.1 200 OK\r\nContent-Length: 99999999999\r\n\r\nx"]
)
def test_a_device_that_accepts_and_answers_nonsense_costs_one_deadline(ask: Ask, say: bytes) -> None:
    deaf = Deaf(say)
    began = time.monotonic()
    code, out, _ = ask(
        "ready", "--new", "127.0.0.1", "--port", f"ipp={deaf.port}", "--port", f"raw={deaf.port}", "--timeout", "1.5"
    )
    deaf.close()
    assert time.monotonic() - began < 2.5
    assert code == 3
    assert out.startswith("CANNOT TELL")


def _ignore_ctrl_c() -> None:
    """What a shell does to whom it puts in the background (POSIX.1 2.11)."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


@pytest.mark.skipif(os.name != "posix", reason="sends signals to a process of its own")
@pytest.mark.parametrize(
    ("ended_by", "before"),
    [(signal.SIGINT, None), (signal.SIGTERM, None), (signal.SIGTERM, _ignore_ctrl_c)],
    ids=["Ctrl-C", "terminated", "terminated in the background"],
)
def test_an_interruption_saves_and_prints_what_was_gathered(
    tmp_path: Path, ended_by: signal.Signals, before: Callable[[], None] | None
) -> None:
    deaf, saved = Deaf(), tmp_path / "case.json"
    command = [*NETCHECK, "ready", "--new", "127.0.0.1", "--port", f"ipp={deaf.port}", "--timeout", "30"]
    process = subprocess.Popen(
        [*command, "--save", str(saved)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=before,  # noqa: PLW1509 - no thread is running here
    )
    time.sleep(1.5)
    process.send_signal(ended_by)
    out, err = process.communicate(timeout=10)
    deaf.close()
    assert process.returncode == 130
    assert "interrupted" in err
    assert "Traceback" not in err
    assert re.match(r"(NOT READY|CANNOT TELL)  ", out)
    assert [each["kind"] for each in json.loads(saved.read_text("utf-8"))["observations"]]


def test_an_interpreter_that_drops_docstrings_is_refused() -> None:
    """What to do, and what to be careful of, are docstrings; `python -OO` has none (Python's command line, -OO)."""
    done = subprocess.run([sys.executable, "-OO", "-m", "netcheck", "explain"], capture_output=True, text=True)
    assert done.returncode == 2
    assert "-OO" in done.stderr
