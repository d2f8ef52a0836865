"""The JSON of a saved case out of whatever became of its file. Stage: below `document`.

A case comes by mail and through other people's shells. What they do to the text and not to what it says is undone: a
byte order mark, and the UTF-16 into which a shell's ``>`` may turn everything (RFC 8259 s8.1, RFC 2781 s3.2; the seal
is over the values, not over the octets). Everything else is refused, and told as what it is.
"""

import codecs
import stat
from pathlib import Path
from typing import Any, Final

import msgspec

from netcheck.errors import Complaint, InputError
from netcheck.tables import read_bounded

_MARKS: Final = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, ""),  # before UTF-16: it begins with that one's mark
    (codecs.BOM_UTF32_BE, ""),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
"""Byte order marks and the encodings that are read by them; "" for what is only known."""
_STARTS: Final = (
    (b"PK\x03\x04", "a ZIP archive"),
    (b"\x1f\x8b", "a gzip file"),
    (codecs.BOM_UTF32_LE, "UTF-32 text"),
    (codecs.BOM_UTF32_BE, "UTF-32 text"),
    (b"{\x00", "UTF-16 text without a byte order mark"),
    (b"\x00{", "UTF-16 text without a byte order mark"),
)
_OF_OURS: Final = {"netcheck/found/": "find", "netcheck/difference/": "compare", "netcheck/swept/": "sweep"}
"""Schemas that are no case's, and the command that writes them."""
_HANDED_OVER: Final = frozenset({"/dev", "/dev/fd", "/proc/self/fd"})
"""Where a shell names what it has opened for us: somebody writes to that, or did."""
_WANTED: Final = "a whole saved case"


def load_json(path: Path, limit: int) -> dict[str, Any]:
    """The object that a file holds, of at most ``limit`` octets. Raises InputError."""
    _refuse_what_is_no_file(path)
    text = _text(path, read_bounded(path, limit, "saved case"))
    try:
        plain = msgspec.json.decode(text)
    except (msgspec.DecodeError, RecursionError) as error:
        maker = _maker_of_line(text)
        found = maker or f"JSON that cannot be read ({error})"
        raise InputError(Complaint(str(path), "schema" if maker else "", found, _WANTED)) from error
    if not isinstance(plain, dict):
        raise InputError(Complaint(str(path), "", f"a JSON {type(plain).__name__}", "a saved case"))
    return plain


def told_schema(schema: object) -> str:
    """What a schema is of, "" where it is none of ours."""
    kinds = (of for prefix, of in _OF_OURS.items() if isinstance(schema, str) and schema.startswith(prefix))
    return next((f"what `netcheck {of}` saves ({schema!r:.60})" for of in kinds), "")


def _refuse_what_is_no_file(path: Path) -> None:
    """A pipe to which nobody writes would be waited for without an end."""
    try:
        mode = path.stat().st_mode
    except OSError:
        return  # reading it says why
    if not stat.S_ISREG(mode) and str(path.parent) not in _HANDED_OVER:
        kinds = {stat.S_IFDIR: "a folder", stat.S_IFIFO: "a named pipe", stat.S_IFSOCK: "a socket"}
        found = kinds.get(stat.S_IFMT(mode), "a device")
        raise InputError(Complaint(str(path), "", found, "the file of a saved case"))


def _text(path: Path, raw: bytes) -> str:
    mark, encoding = next((each for each in _MARKS if raw.startswith(each[0])), (b"", "utf-8"))
    found = next((what for start, what in _STARTS if raw.startswith(start)), "")
    if found:
        raise InputError(Complaint(str(path), "", found, f"{_WANTED}, as UTF-8"))
    try:
        return raw[len(mark) :].decode(encoding)
    except UnicodeDecodeError as error:
        start, end = (at + len(mark) for at in (error.start, error.end))  # in the file, not after its mark
        found = f"no {encoding.upper()} ({UnicodeDecodeError(encoding, raw, start, end, error.reason)})"
        raise InputError(Complaint(str(path), "", found, f"{_WANTED}, as UTF-8")) from error


def _maker_of_line(text: str) -> str:
    """What a file is that holds a document a line."""
    try:
        line = msgspec.json.decode(text.partition("\n")[0])
    except (msgspec.DecodeError, RecursionError):
        return ""
    return told_schema(line.get("schema")) if isinstance(line, dict) else ""
