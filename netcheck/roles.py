"""The closed vocabularies that a saved case is written in: who an observation is about, and how an attempt ended."""

from enum import StrEnum


class Role(StrEnum):
    """Who an observation is about. ``DEVICE`` is a device by itself: no move, no partner."""

    OLD = "old"
    NEW = "new"
    QUEUE = "queue"
    HERE = "here"
    DEVICE = "device"


class Outcome(StrEnum):
    """How an attempt to ask ended. Nothing here says good or bad: that is for the rules."""

    ANSWERED = "answered"
    EMPTY = "empty"
    REFUSED = "refused"
    SILENT = "silent"
    UNREACHABLE = "unreachable"
    MALFORMED = "malformed"
    DENIED = "denied"
    FAILED = "failed"
    NOT_TRIED = "not-tried"
