"""Stage: ask, one operation. Request octets in, a response out, or a `Failure` that says why not.

Everything that can go wrong between us and an IPP object ends here in one of the case's outcomes, with words for a
person. What may be tried next is told apart from what it is called, because only the asker knows what there is to try.
"""

import errno
import os
from enum import StrEnum
from typing import Final

import msgspec

from netcheck.probing import Deadline
from netcheck.roles import Outcome
from netcheck.wire import Wire
from probes.ipp.codec import MalformedIppError, decode
from probes.ipp.http import Endpoint, Kind, MalformedHttpError, NoAnswerError, Reply, post
from probes.ipp.labels import LAST_SUCCESS, Status, status_words
from probes.ipp.redirects import demands_tls
from probes.ipp.said import texts
from probes.ipp.values import GroupTag, Message

_LONGEST_QUOTE: Final = 160  # characters of a peer's own words in a reason


class Retry(StrEnum):
    """What could be asked instead."""

    NOTHING = "nothing"
    ANOTHER_PATH = "another-path"
    ANOTHER_VERSION = "another-version"
    ENCRYPTED = "encrypted"


class Response(msgspec.Struct, frozen=True):
    """A response, and the path that gave it, which a redirect may have changed. From `call` its status is a success."""

    message: Message
    path: str


class Failure(msgspec.Struct, frozen=True):
    """No response, or one that is no success."""

    outcome: Outcome
    reason: str
    retry: Retry = Retry.NOTHING


_TOO_LATE: Final = Failure(Outcome.NOT_TRIED, "no time was left")


async def call(endpoint: Endpoint, request: bytes, wire: Wire, deadline: Deadline) -> Response | Failure:
    """Ask once, and get what was asked for: any other status is a failure."""
    result = await converse(endpoint, request, wire, deadline)
    return result if isinstance(result, Failure) else _succeeded(result)


async def converse(endpoint: Endpoint, request: bytes, wire: Wire, deadline: Deadline) -> Response | Failure:
    """Ask once, and get the answer, whatever its status, for as long as the deadline allows; waiting for one of the
    run's connections counts."""
    if not (endpoint.kept and endpoint.kept.is_open):  # else it has one already
        try:
            await wire.place(deadline.left())
        except TimeoutError:
            return _TOO_LATE
    try:
        left = deadline.left()
        reply = await _posted(endpoint, request, left) if left else _TOO_LATE
    finally:
        if not (endpoint.kept and endpoint.kept.is_open):
            wire.connects.release()
    if isinstance(reply, Failure):
        return reply
    return _carried(endpoint, reply) or _decoded(reply)


async def _posted(endpoint: Endpoint, request: bytes, wait_s: float) -> Reply | Failure:
    try:
        return await post(endpoint, request, wait_s)
    except NoAnswerError as error:
        return Failure(Outcome.SILENT, str(error))
    except MalformedHttpError as error:
        return Failure(Outcome.MALFORMED, str(error))
    except ConnectionRefusedError:
        return Failure(Outcome.REFUSED, f"nothing listens on port {endpoint.port} (ECONNREFUSED)")
    except OSError as error:
        return Failure(Outcome.UNREACHABLE, _in_words(error))


def _in_words(error: OSError) -> str:
    """The system's words and errno's name. asyncio puts words of its own, with the address, into the error itself."""
    name = errno.errorcode.get(error.errno or 0)
    return f"{os.strerror(error.errno or 0)} ({name})" if name else str(error)


_DENIED: Final = {
    Kind.UNAUTHORIZED: "wants a user name and a password (HTTP 401)",
    Kind.FORBIDDEN: "does not let us in (HTTP 403)",
    Kind.UPGRADE_REQUIRED: "wants an encrypted connection (HTTP 426)",
}
_BAD_REQUEST: Final = 400  # how some refuse a version that they do not know (common practice, no source)
_NO_SUCH_RESOURCE: Final = {404, 405, 410}  # 405: something is there, and it takes no POST, so it is no printer


def _carried(endpoint: Endpoint, reply: Reply) -> Failure | None:
    """What HTTP said, unless it brought an IPP message."""
    if reply.kind is Kind.IPP:
        return None
    if denied := _DENIED.get(reply.kind):
        retry = Retry.ENCRYPTED if reply.kind is Kind.UPGRADE_REQUIRED else Retry.NOTHING
        return Failure(Outcome.DENIED, denied, retry)
    if reply.kind is Kind.NOT_IPP:
        # What serves a page here, whatever is posted to it, is no printer; one may be elsewhere.
        reason = f"answered {_quoted(reply.content_type)} instead of application/ipp"
        return Failure(Outcome.MALFORMED, reason, Retry.ANOTHER_PATH)
    if reply.status in _NO_SUCH_RESOURCE:
        return Failure(Outcome.EMPTY, f"no printer at this path (HTTP {reply.status})", Retry.ANOTHER_PATH)
    if reply.status == _BAD_REQUEST:
        return Failure(Outcome.FAILED, f"HTTP {reply.status}", Retry.ANOTHER_VERSION)
    if reply.kind is Kind.REDIRECTED and demands_tls(endpoint, reply.location):
        return Failure(Outcome.DENIED, f"wants an encrypted connection (HTTP {reply.status})", Retry.ENCRYPTED)
    if reply.kind is Kind.REDIRECTED:
        return Failure(Outcome.DENIED, "redirects to where we do not follow: another host or port, or round in circles")
    return Failure(Outcome.FAILED, f"HTTP {reply.status}")


def _decoded(reply: Reply) -> Response | Failure:
    try:
        return Response(decode(reply.body), reply.path)
    except MalformedIppError as error:
        return Failure(Outcome.MALFORMED, f"not an IPP message: {error}")


def _succeeded(response: Response) -> Response | Failure:
    """What IPP said."""
    message = response.message
    if message.code <= LAST_SUCCESS:
        return response
    reason = status_words(message.code)
    if said := _status_message(message):
        reason = f"{reason}: {said}"
    match message.code:
        case Status.FORBIDDEN | Status.NOT_AUTHENTICATED | Status.NOT_AUTHORIZED:
            return Failure(Outcome.DENIED, reason)
        case Status.NOT_FOUND | Status.GONE:
            return Failure(Outcome.EMPTY, reason, Retry.ANOTHER_PATH)
        case Status.VERSION_NOT_SUPPORTED | Status.BAD_REQUEST:
            return Failure(Outcome.FAILED, reason, Retry.ANOTHER_VERSION)
        case _:
            return Failure(Outcome.FAILED, reason)


def _status_message(message: Message) -> str:
    for group in message.groups_of(GroupTag.OPERATION):
        return _quoted(" ".join(texts(group.by_name().get("status-message", ()))))
    return ""


def _quoted(words: str) -> str:
    return words if len(words) <= _LONGEST_QUOTE else f"{words[:_LONGEST_QUOTE]}..."
