"""What the comparison knows of each kind of fact. Pure data: which theme it belongs to, which key tells one row from
another, and what moves although nothing happened.
"""

from enum import StrEnum
from typing import Final


class Theme(StrEnum):
    """What a fact is about, in the order in which a person wants to read of it."""

    IDENTITY = "identity"
    FIRMWARE = "firmware"
    ADDRESS = "address"
    SERVICES = "services"
    CONDITION = "condition"
    PRINTED = "printed"
    SUPPLIES = "supplies"
    MEDIA = "media"
    CAPABILITIES = "capabilities"
    QUEUE = "queue"
    REST = "rest"


_KINDS: Final = {
    Theme.IDENTITY: ("serial", "mac", "uuid", "model", "device-id", "system", "printer-names"),
    Theme.FIRMWARE: ("firmware",),
    Theme.ADDRESS: (
        *("addresses", "gateways", "interfaces", "name-lookup", "reverse-name", "route", "neighbour"),
        *("planned-neighbour", "gateway-neighbour", "own-interfaces", "own-gateways"),
    ),
    Theme.SERVICES: ("service", "snmp-agent", "ipp-service", "certificate", "advertisement"),
    Theme.CONDITION: ("host-printer", "printer-state", "alerts", "covers", "console", "printer-clock", "host-uptime"),
    Theme.PRINTED: ("markers", "meter"),
    Theme.SUPPLIES: ("supplies",),
    Theme.MEDIA: ("inputs", "outputs", "media-ready", "media-supported", "media-paths"),
    Theme.CAPABILITIES: ("capabilities", "formats", "interpreters", "channels", "job-check"),
    Theme.QUEUE: ("queue-target", "queue-driver", "queue-defaults", "jobs", "queue-names"),
}
THEMES: Final[dict[str, Theme]] = {kind: theme for theme, kinds in _KINDS.items() for kind in kinds}
"""Theme by kind; a kind that is not listed, as one of a later version, is of `Theme.REST`."""

LEFT_OUT: Final = frozenset({"objects"})
"""Not compared: the objects behind the facts are there for support, and say the same again, in thousands of rows."""

ROW_KEYS: Final[dict[tuple[str, str], tuple[str, ...]]] = {
    ("addresses", "rows"): ("address",),
    ("interfaces", "rows"): ("index",),
    ("own-interfaces", "rows"): ("name", "address"),
    ("firmware", "modules"): ("name",),
    ("ipp-service", "uris"): ("uri",),
    ("advertisement", "txt"): ("key",),
    ("advertisement", "places"): ("name",),
    ("channels", "rows"): ("index",),
    ("interpreters", "rows"): ("index",),
    ("media-paths", "rows"): ("index",),
    ("console", "lights"): ("index",),
    # An alert that is raised anew has a new index (RFC 3805 s2.2.13.4). What it is about stays.
    ("alerts", "rows"): ("group", "group_index", "location", "code"),
    ("covers", "rows"): ("index",),
    ("markers", "rows"): ("index",),
    ("supplies", "rows"): ("index",),
    ("inputs", "rows"): ("index",),
    ("outputs", "rows"): ("index",),
    # By IPP the rows have no number, but mostly say out of which source they come (PWG 5100.7 media-source).
    ("media-ready", "rows"): ("source",),
    ("jobs", "rows"): ("job",),
}
"""What tells one row from another, by kind and field. Rows whose key is empty, or is another row's as well, and tables
that are not listed, are compared as wholes: such a row is there or it is not."""

PAIRS: Final = frozenset({("device-id", "pairs"), ("queue-defaults", "options")})
"""Lists of (name, value): each name is a field of its own."""

NAMED_BY: Final[dict[str, tuple[str, ...]]] = {"service": ("service",), "certificate": ()}
"""Where an observation's source holds a port, which is no name: the fields that name it instead."""

_CLOCK: Final = "a clock"
_TIMING: Final = "how long something took, which is never the same twice"
_COUNTER: Final = "a counter of traffic, which other people's traffic moves"
_MEMORY: Final = "what a table remembers for some seconds, or was overheard by chance"
_NUMBER: Final = "a number that is given anew each time"

MOVES: Final[dict[tuple[str, str], str]] = {
    ("system", "up_centiseconds"): _CLOCK,
    ("host-uptime", "centiseconds"): _CLOCK,
    ("printer-clock", "up_s"): _CLOCK,
    ("printer-clock", "state_changed_s"): _CLOCK,
    ("printer-clock", "now"): _CLOCK,
    ("alerts", "at_centiseconds"): _CLOCK,
    ("alerts", "index"): _NUMBER,
    ("service", "waited_ms"): _TIMING,
    ("service", "round_trips_us"): _TIMING,
    ("interfaces", "in_errors"): _COUNTER,
    ("interfaces", "out_errors"): _COUNTER,
    ("interfaces", "late_collisions"): _COUNTER,
    ("neighbour", "state"): _MEMORY,
    ("planned-neighbour", "state"): _MEMORY,
    ("gateway-neighbour", "state"): _MEMORY,
    ("neighbour", "asks"): _MEMORY,
    ("planned-neighbour", "asks"): _MEMORY,
    ("gateway-neighbour", "asks"): _MEMORY,
}
"""What is another each time that one looks, and why: it says nothing of the device. Listed last, and shortly. A page
count is not among them: that it moved shows that the device printed."""

STARTED_ANEW: Final[dict[tuple[str, str], int]] = {("host-uptime", "centiseconds"): 100, ("printer-clock", "up_s"): 1}
"""Clocks that start with the device, in ticks a second: one that is behind where it was says that the device was
restarted. The agent's own (``system``) is not among them, since it also wraps."""

ZERO_IS_NOTHING: Final = frozenset(
    {("service", "segment"), ("certificate", "key_bits"), ("certificate", "chain_length")}
)
"""Numbers of which 0 says that our own side could not tell."""

NEVER_GONE: Final = {
    "advertisement": "what announces itself is not always heard",
    "service": "that port was not asked",
    "job-check": "nobody asked about that print",
}
"""Kinds whose absence proves nothing, whoever else answered, and why: the first is heard and not answered (RFC 6762),
the others are asked for one by one, as the Move and the Standard name them."""

MICROMETRES: Final = frozenset({"feed", "cross", "max_cross", "max_feed", "min_cross", "min_feed", "low", "high"})
"""Fields whose numbers are lengths."""

A_SECOND: Final = {"centiseconds": 100, "up_centiseconds": 100, "up_s": 1, "state_changed_s": 1, "config_changed_s": 1}
"""Fields whose numbers are times since a start, in ticks a second."""

FIELD_NAMES: Final = {
    "centiseconds": "up",
    "up_centiseconds": "up",
    "up_s": "up",
    "state_changed_s": "state changed at",
    "config_changed_s": "configuration changed at",
    "speed_bits": "speed",
    "not_before_ms": "not before",
    "not_after_ms": "not after",
}
"""What a field is called, where its name with blanks would not do."""
