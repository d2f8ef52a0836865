"""The examples that run a sweep every night: read by what they are for, where it is here.

Sources: systemd-analyze itself; crontab(5); MS-TSCH 2.5 (the Task Scheduler's schema; element names and their order
from memory, not tried on Windows).
"""

import re
import shlex
import shutil
import subprocess
import xml.etree.ElementTree as ElementTree
from importlib import resources
from pathlib import Path

import click
import pytest

from netcheck.cli import main

EXAMPLES = Path(str(resources.files("netcheck.sweeping") / "examples"))
SERVICE, TIMER, CRONTAB, TASK = (
    EXAMPLES / name for name in ("netcheck-sweep.service", "netcheck-sweep.timer", "crontab", "netcheck-sweep.xml")
)
TASK_NAMESPACE = "{http://schemas.microsoft.com/windows/2004/02/mit/task}"


def setting(path: Path, name: str) -> str:
    (value,) = re.findall(rf"^{name}=(.*)$", path.read_text("utf-8"), re.MULTILINE)
    return str(value)


def cron_lines() -> list[str]:
    lines = CRONTAB.read_text("utf-8").splitlines()
    return [line for line in lines if line and not line.startswith("#") and not re.match(r"[A-Z]+=", line)]


def task() -> ElementTree.Element:
    return ElementTree.fromstring(TASK.read_bytes())  # noqa: S314 - our own file


def task_text(path: str) -> str:
    text = task().findtext("/".join(TASK_NAMESPACE + step for step in path.split("/")))
    assert text
    return text


def commands() -> dict[str, list[str]]:
    """What each example starts, without the program itself."""
    return {
        "service": shlex.split(setting(SERVICE, "ExecStart"))[1:],
        "crontab": shlex.split(cron_lines()[0].split(None, 5)[5])[1:],
        "task": shlex.split(task_text("Actions/Exec/Arguments")),
    }


# --- systemd


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="there is no systemd-analyze here")
def test_systemd_has_nothing_to_say_against_the_units(tmp_path: Path) -> None:
    assert verified(tmp_path, SERVICE.read_text("utf-8")) == ""


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="there is no systemd-analyze here")
def test_systemd_would_say_it(tmp_path: Path) -> None:
    """It ends in 0 for a key that it does not know, and only says so: the test above can fail."""
    assert "Nicely" in verified(tmp_path, SERVICE.read_text("utf-8").replace("Nice=", "Nicely="))


def verified(folder: Path, service: str) -> str:
    """What systemd says of the units, with a program that is here in the place of ours."""
    program = setting(SERVICE, "ExecStart").split()[0]
    (folder / SERVICE.name).write_text(service.replace(program, shutil.which("true") or "/bin/true"), "utf-8")
    shutil.copy(TIMER, folder)
    units = [str(folder / SERVICE.name), str(folder / TIMER.name)]
    done = subprocess.run(["systemd-analyze", "verify", *units], capture_output=True, text=True, timeout=60)
    return done.stdout + done.stderr


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="there is no systemd-analyze here")
def test_the_timer_is_every_night() -> None:
    """As systemd itself writes the moment out."""
    done = subprocess.run(
        ["systemd-analyze", "calendar", "--iterations=3", setting(TIMER, "OnCalendar")],
        capture_output=True,
        text=True,
        timeout=60,
        env={"TZ": "UTC", "PATH": "/usr/bin:/bin", "LC_ALL": "C"},
    )
    assert done.returncode == 0
    moments = re.findall(r"\w{3} (\d{4}-\d{2}-\d{2}) 02:00:00 UTC", done.stdout)
    assert len(set(moments)) == 3


def test_an_answer_is_no_failure_of_the_unit() -> None:
    assert setting(SERVICE, "SuccessExitStatus").split() == ["1", "3"]


# --- cron


def test_the_crontab_has_five_fields_and_a_command() -> None:
    (line,) = cron_lines()
    *fields, command = line.split(None, 5)
    assert len(fields) == 5
    limits = ((0, 59), (0, 23), (1, 31), (1, 12), (0, 7))  # crontab(5)
    for field, (least, most) in zip(fields, limits, strict=True):
        assert field == "*" or least <= int(field) <= most
    assert command.startswith("netcheck sweep ")
    assert "%" not in command.replace(r"\%", "")  # crontab(5): an unescaped one is a line break
    assert CRONTAB.read_bytes().endswith(b"\n")  # some crons ignore a last line without its end


# --- Windows


def test_the_task_is_well_formed_and_has_the_schemas_elements_in_its_order() -> None:
    known = {  # parent: its children, in the order of the schema's sequences
        "Task": ["RegistrationInfo", "Triggers", "Principals", "Settings", "Actions"],
        "RegistrationInfo": ["Description"],
        "Triggers": ["CalendarTrigger"],
        "CalendarTrigger": ["StartBoundary", "RandomDelay", "ScheduleByDay"],
        "ScheduleByDay": ["DaysInterval"],
        "Principals": ["Principal"],
        "Principal": ["UserId", "RunLevel"],
        "Settings": [
            "MultipleInstancesPolicy",
            "DisallowStartIfOnBatteries",
            "StopIfGoingOnBatteries",
            "StartWhenAvailable",
            "RunOnlyIfNetworkAvailable",
            "ExecutionTimeLimit",
            "Priority",
        ],
        "Actions": ["Exec"],
        "Exec": ["Command", "Arguments", "WorkingDirectory"],
    }
    root = task()
    assert root.tag == f"{TASK_NAMESPACE}Task"
    assert root.get("version") == "1.2"
    for element in root.iter():
        children = [child.tag.removeprefix(TASK_NAMESPACE) for child in element]
        assert children == known.get(element.tag.removeprefix(TASK_NAMESPACE), [])


def test_the_tasks_values_are_of_their_types() -> None:
    for path in ("Triggers/CalendarTrigger/RandomDelay", "Settings/ExecutionTimeLimit"):
        assert re.fullmatch(r"PT\d+[HMS]", task_text(path))  # xs:duration
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d", task_text("Triggers/CalendarTrigger/StartBoundary"))
    assert task_text("Settings/MultipleInstancesPolicy") == "IgnoreNew"  # two sweeps at once: the second does not start
    assert task_text("Principals/Principal/RunLevel") == "LeastPrivilege"
    principal = task().find(f"{TASK_NAMESPACE}Principals/{TASK_NAMESPACE}Principal")
    actions = task().find(f"{TASK_NAMESPACE}Actions")
    assert principal is not None
    assert actions is not None
    assert actions.get("Context") == principal.get("id")
    assert TASK.read_bytes().isascii()  # with no encoding declared, it is read right as whatever it is taken for


# --- what they start


@pytest.mark.parametrize("name", ["service", "crontab", "task"])
def test_the_command_is_one_that_there_is(name: str) -> None:
    words = commands()[name]
    assert words[0] == "sweep"
    command = main.get_command(click.Context(main), "sweep")
    if command is None:
        pytest.skip("there is no command sweep yet")
    known = {option for each in command.params for option in each.opts}
    assert {word for word in words if word.startswith("--")} <= known
    context = command.make_context("sweep", words[1:], resilient_parsing=True)
    assert [given for given in context.params.values() if str(given).endswith("fleet.csv")]
