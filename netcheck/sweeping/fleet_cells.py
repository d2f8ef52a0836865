"""The values of a fleet file, each made what it says or refused. Stage: second of the fleet file; one value at a time.

A spreadsheet changes what is typed into it: 9100 may come out as 9100.0, a serial as 1,23E+11, a look-up as #N/A. What
cannot be undone for certain is told and not guessed.
"""

import re
import unicodedata
from functools import lru_cache
from typing import Final

from netcheck.gates import Gate
from netcheck.move import Ports, parse_server
from netcheck.place import WANTED_PLACE, Place, parse_place
from netcheck.secret import without_userinfo
from netcheck.sweeping.fleet_lines import LOST
from netcheck.sweeping.fleet_notes import Wrong, meant, telling
from netcheck.tables import NOT_SHOWN, parse_mac

COLUMNS: Final = {
    "site": "the site's name",
    "queue": "the queue's name",
    "server": "the spooler as host:port, as 192.0.2.5:631",
    "old": f"the old device: {WANTED_PLACE}",
    "new": f"the new device: {WANTED_PLACE}",
    "gate": f"{', '.join(Gate)}, or nothing, which is {Gate.STANDING}",
    "standard": "the file of a Standard, from this file's folder on",
    "snmp": 'the name of a profile, as site-2, or nothing for the community "public"; never a community itself',
    "ports": "ports that are not the usual ones, as ipp=8631 raw=9101",
    "serial": "the serial number of the new device, as text",
    "mac": "the MAC address of the new device, as 02:77:00:00:00:22",
    "asset": "the asset tag of the new device, as text",
    "notes": "a note for whoever reads the outcome",
}
"""The columns, and what is to stand in each."""
LONGEST: Final = 1000
_FREE: Final = ("site", "notes")
_FAILED: Final = re.compile(r"#(N/?A|REF!|NAME\?|VALUE!|DIV/0!|NULL!|NUM!|NV|WERT!|BEZUG!)|Err:\d{3}")
_AS_TEXT: Final = re.compile(r'="([^"]*)"')
_ROUNDED: Final = re.compile(r"[+-]?\d+(?:[.,]\d+)?E[+-]\d+", re.IGNORECASE)
_WHOLE: Final = re.compile(r"[+-]?\d+[.,]0+")
_GUARDED: Final = re.compile(r"'[=+\-@\d]")
_PROFILE: Final = re.compile(r"[A-Z]?[a-z]*[0-9]{0,4}[a-z]?(?:[-_. ][A-Z]?[a-z]*[0-9]{0,4}[a-z]?)*|[A-Z]+[0-9]{0,4}")
"""Words with at most a number behind each. What has its capitals and digits elsewhere may be a secret."""
_LONGEST_PROFILE = 32
_COMMUNITIES: Final = ("public", "private")
_FEW = 1024
"""Different values that a column with few of them has, in which each stands in many rows."""
_ABOUT_EQUALS = re.compile(r"\s*[=:]\s*")
_BETWEEN_PORTS = re.compile(r"[\s;,/|]+")
_TYPED_AGAIN = "; format the column as Text and type it again"


def is_failed(text: str) -> bool:
    """Is it what a spreadsheet shows for a formula that failed?"""
    return _FAILED.fullmatch(text) is not None


def cleaned(column: str, cell: str) -> str:
    """The value of a cell: without blanks around it, those that nobody sees included, or a spreadsheet's own marks.
    Raises Wrong."""
    text = cell.strip()
    if not (text.isascii() and text.isprintable()):
        text = _visible(column, text)
    if len(text) > LONGEST:
        if column != "notes":
            raise Wrong(f"{len(text)} characters", f"at most {LONGEST}: {COLUMNS[column]}")
        text = f"{text[:LONGEST]}..."
    if _SUSPECT.match(text):
        text = _unspoilt(column, text)
    if ("@" in text or "..." in text or "%40" in text) and without_userinfo(text) != text:
        raise Wrong("a URI with a user or password in it, which would end up in reports", COLUMNS[column])
    return text


_SUSPECT = re.compile(r"['=#]|Err:|[+-]?\d+(?:[.,]\d+)?(?:E[+-]\d+)?$", re.IGNORECASE)
"""All that `_unspoilt` has to look at."""


def _visible(column: str, text: str) -> str:
    """Line breaks and no-break spaces are blanks; what only directs the text or joins its letters is left out."""
    text = "".join(char for char in text if unicodedata.category(char) != "Cf")
    text = " ".join(text.split())
    if LOST in text:
        raise Wrong("a letter that was lost on the way (U+FFFD)", f"it typed again, and the file as UTF-8: {column}")
    if text.isprintable():
        return text
    if column == "notes":
        return "".join(char if char.isprintable() else " " for char in text)
    code = next(f"U+{ord(char):04X}" for char in text if not char.isprintable())
    raise Wrong(f"a character that cannot be seen ({code})", f"it typed again without that: {COLUMNS[column]}")


def _unspoilt(column: str, text: str) -> str:
    if text.startswith("'") and (column not in _FREE or _GUARDED.match(text)):
        text = text[1:].strip()  # how a spreadsheet is told to leave a value alone; most keep it to themselves
    if as_text := _AS_TEXT.fullmatch(text):
        return as_text[1].strip()
    if column == "notes":
        return text
    if text.startswith("="):
        raise Wrong(f"a formula, {telling(text)}", f"its value (copy, paste values): {COLUMNS[column]}")
    if is_failed(text):
        raise Wrong(f"{text!r}, a formula that failed", COLUMNS[column])
    if column != "snmp" and _ROUNDED.fullmatch(text):
        raise Wrong(f"{text!r}, which a spreadsheet has made of a number", COLUMNS[column] + _TYPED_AGAIN)
    if column != "snmp" and _WHOLE.fullmatch(text):
        raise Wrong(f"{text!r}, to which a spreadsheet has given decimals", COLUMNS[column] + _TYPED_AGAIN)
    return text


def place_of(column: str, text: str) -> Place:
    """A device. Raises Wrong, which repeats nothing of a password."""
    try:
        return parse_place(text)
    except ValueError as error:
        said = str(error)
        if "@" not in text and "%40" not in text and telling(text).startswith("something"):
            said = telling(text)
        raise Wrong(said if len(said) <= 200 else f"{said[:197]}...", COLUMNS[column]) from None


@lru_cache(_FEW)
def server_of(text: str) -> str:
    """A spooler as host:port. Raises Wrong."""
    try:
        return parse_server(text)
    except ValueError:
        raise Wrong(telling(text), COLUMNS["server"]) from None


@lru_cache(_FEW)
def gate_of(text: str) -> Gate:
    """A gate, in any case. Raises Wrong."""
    try:
        return Gate(text.casefold())
    except ValueError:
        raise Wrong(telling(text), COLUMNS["gate"] + meant(text, tuple(Gate))) from None


@lru_cache(_FEW)
def profile_of(text: str) -> str:
    """The name of an SNMP profile. Raises Wrong, which never repeats what was there."""
    if text.casefold() in _COMMUNITIES or len(text) > _LONGEST_PROFILE or not _PROFILE.fullmatch(text):
        raise Wrong(NOT_SHOWN, COLUMNS["snmp"])
    return text


def mac_of(text: str) -> str:
    """A MAC address in lower case with colons. Raises Wrong."""
    try:
        return parse_mac(text)
    except ValueError:
        hint = "; a spreadsheet drops the zeros at the front of a number" if text.isdigit() else ""
        raise Wrong(telling(text), COLUMNS["mac"] + hint) from None


@lru_cache(_FEW)
def ports_of(text: str) -> Ports:
    """``ipp=8631 raw=9101``, also with colons, commas or semicolons. Raises Wrong."""
    named: dict[str, int] = {}
    for part in filter(None, _BETWEEN_PORTS.split(_ABOUT_EQUALS.sub("=", text))):
        name, equals, number = part.partition("=")
        service = name.casefold()
        if not equals:
            raise Wrong(telling(part), f"whose port it is: {COLUMNS['ports']}")
        if service not in Ports.__struct_fields__:
            known = ", ".join(Ports.__struct_fields__)
            raise Wrong(f"the service {telling(name)}", f"one of {known}{meant(name, Ports.__struct_fields__)}")
        if not (number.isascii() and number.isdecimal() and len(number) <= 5 and 1 <= int(number) <= 65535):
            raise Wrong(f"{service}={number[:20]}", f"a number from 1 to 65535, as {service}=8631")
        if named.setdefault(service, int(number)) != int(number):
            raise Wrong(f"two ports for {service}", f"one: {COLUMNS['ports']}")
    return Ports(**named)
