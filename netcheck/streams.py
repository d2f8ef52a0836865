"""Stdin, stdout and stderr, whatever the shell made of them. Stage: around everything; imports nothing slow."""

import errno
import io
import os
import sys
from typing import TYPE_CHECKING, Any, TextIO

import click

if TYPE_CHECKING:
    from netcheck.errors import InputError


def ready_streams() -> None:
    """Before anything is opened: all three there, and able to take every character."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            # Closed by the shell. Left so, the next file that is opened would take its number, and what is printed.
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: PTH123, SIM115 - it ends with us
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # A terminal that cannot show a character gets its code: what a device calls itself must not end the run.
            stream.reconfigure(errors="backslashreplace")


def is_terminal(stream: TextIO | None) -> bool:
    """Does somebody sit there? A stream that is closed is None."""
    return stream is not None and stream.isatty()


def emit(result: str | bytes) -> None:
    """Write a result to stdout: a page in the encoding of the terminal, a document (bytes) as it is, for JSON is UTF-8
    whatever the terminal speaks. A reader that went away (``| head``) does not change the answer. Raises InputError
    where there is no room."""
    try:
        click.echo(result, nl=False)
        flush()
    except BrokenPipeError:
        silence(sys.stdout)
    except OSError as error:
        silence(sys.stdout)
        raise refusal("stdout", error) from error


def complain(text: str) -> None:
    """A line to stderr. Where that is full or gone too, the exit code has to say it alone."""
    try:
        click.echo(text, err=True)
    except OSError:
        silence(sys.stderr)


def flush() -> None:
    """Have stdout written now. Raises OSError."""
    if sys.stdout is not None:
        sys.stdout.flush()


def is_full(error: OSError) -> bool:
    """Was there no room? Whatever was written then, it is no fault of ours."""
    return error.errno == errno.ENOSPC


def refusal(where: str, error: OSError) -> "InputError":
    """What is said where something cannot be written."""
    from netcheck.errors import Complaint, InputError  # not before it is needed: `--help` needs none of it

    wanted = "room for the result" if is_full(error) else "a place that takes the result"
    return InputError(Complaint(where, "", error.strerror or str(error), wanted))


def silence(stream: Any) -> None:
    """What is left in a stream goes nowhere: keep the interpreter from complaining of it while it ends."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
