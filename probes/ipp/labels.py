"""Stage: ask and read. The registered numbers of IPP that this tool meets, and their keywords."""

from enum import IntEnum
from typing import Final


class Operation(IntEnum):
    """operation-id (RFC 8011 section 5.4.15; the one from 0x4000 on is CUPS's own). None changes or prints anything."""

    VALIDATE_JOB = 0x0004
    GET_JOBS = 0x000A
    GET_PRINTER_ATTRIBUTES = 0x000B
    CUPS_GET_PRINTERS = 0x4002


class Status(IntEnum):
    """status-code (RFC 8011 appendix B): those that change what is done next, or how it is called."""

    BAD_REQUEST = 0x0400
    FORBIDDEN = 0x0401
    NOT_AUTHENTICATED = 0x0402
    NOT_AUTHORIZED = 0x0403
    NOT_FOUND = 0x0406
    GONE = 0x0407
    VERSION_NOT_SUPPORTED = 0x0503


LAST_SUCCESS: Final = 0x00FF

_STATUSES: Final = {
    0x0000: "successful-ok",
    0x0001: "successful-ok-ignored-or-substituted-attributes",
    0x0002: "successful-ok-conflicting-attributes",
    Status.BAD_REQUEST: "client-error-bad-request",
    Status.FORBIDDEN: "client-error-forbidden",
    Status.NOT_AUTHENTICATED: "client-error-not-authenticated",
    Status.NOT_AUTHORIZED: "client-error-not-authorized",
    0x0404: "client-error-not-possible",
    0x0405: "client-error-timeout",
    Status.NOT_FOUND: "client-error-not-found",
    Status.GONE: "client-error-gone",
    0x0408: "client-error-request-entity-too-large",
    0x0409: "client-error-request-value-too-long",
    0x040A: "client-error-document-format-not-supported",
    0x040B: "client-error-attributes-or-values-not-supported",
    0x040C: "client-error-uri-scheme-not-supported",
    0x040D: "client-error-charset-not-supported",
    0x040E: "client-error-conflicting-attributes",
    0x0500: "server-error-internal-error",
    0x0501: "server-error-operation-not-supported",
    0x0502: "server-error-service-unavailable",
    Status.VERSION_NOT_SUPPORTED: "server-error-version-not-supported",
    0x0504: "server-error-device-error",
    0x0505: "server-error-temporary-error",
    0x0506: "server-error-not-accepting-jobs",
    0x0507: "server-error-busy",
    0x0508: "server-error-job-canceled",
}

PRINTER_STATES: Final = {3: "idle", 4: "processing", 5: "stopped"}
"""printer-state (RFC 8011 section 5.4.11)."""

JOB_STATES: Final = {
    3: "pending",
    4: "pending-held",
    5: "processing",
    6: "processing-stopped",
    7: "canceled",
    8: "aborted",
    9: "completed",
}
"""job-state (RFC 8011 section 5.3.7)."""

ENUMERATIONS: Final[dict[str, dict[int, str]]] = {
    "finishings-default": {
        3: "none",
        4: "staple",
        5: "punch",
        6: "cover",
        7: "bind",
        8: "saddle-stitch",
        9: "edge-stitch",
    },
    "orientation-requested-default": {
        3: "portrait",
        4: "landscape",
        5: "reverse-landscape",
        6: "reverse-portrait",
    },
    "print-quality-default": {3: "draft", 4: "normal", 5: "high"},
}
"""Defaults that are numbers on the wire (RFC 8011 sections 5.2.6, 5.2.10, 5.2.13)."""


def status_words(code: int) -> str:
    """The keyword of a status-code; its number where there is none."""
    return _STATUSES.get(code, f"status {code:#06x}")
