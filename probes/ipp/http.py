"""Stage: ask, the carrier. One bounded HTTP/1.1 POST of an IPP message over a channel; h11 does the framing.

What an answer may cost is bounded here: octets of head and body, informational responses, redirects, and time, which
the caller gives. A status is a value (`Kind`), because "log in first", "no such path" and "only encrypted" are answers.
What breaks HTTP raises `MalformedHttpError`, silence raises `NoAnswerError`, and what the network says (refused,
unreachable) stays the OSError that it is.

With a TLS context the connection is encrypted at once (RFC 7472), and whom it trusts is the context's business.

Which redirects are followed is told in `redirects`.
"""

from __future__ import annotations

import asyncio
import ssl
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from enum import StrEnum
from typing import TYPE_CHECKING, Final

import msgspec

from probes.ipp.channel import Channel, Kept, MalformedHttpError, NoAnswerError, connected
from probes.ipp.redirects import followed

if TYPE_CHECKING:
    import h11

__all__ = ["MAX_BODY", "MAX_HEAD", "Endpoint", "Kept", "Kind", "MalformedHttpError", "NoAnswerError", "Reply", "post"]

MAX_HEAD: Final = 32 << 10
MAX_BODY: Final = 4 << 20
MAX_REDIRECTS: Final = 2
_MAX_FRAMING: Final = 96 << 10
"""Octets that are not content: heads, trailers, and the sizes of chunks, of which there are so at most 16,000."""
_MAX_INFORMATIONAL: Final = 8
_IPP: Final = "application/ipp"


class Endpoint(msgspec.Struct, frozen=True):
    """Where to post. `address` is literal, with the zone of a link-local one; `host` is the name it was found by.

    The Host field gets the address, since a printer may refuse names that it does not know itself by. `kept` is there
    where more will be asked at once: then the connection is left open for that.
    """

    address: str
    port: int
    path: str
    host: str = ""
    tls: ssl.SSLContext | None = None
    kept: Kept | None = None

    @property
    def authority(self) -> str:
        """Address and port as in a URI: IPv6 in brackets, without the zone, which means nothing to the peer."""
        bare = self.address.partition("%")[0]
        return f"[{bare}]:{self.port}" if ":" in bare else f"{bare}:{self.port}"


class Kind(StrEnum):
    """What an HTTP response amounts to."""

    IPP = "ipp"
    NOT_IPP = "not-ipp"
    UNAUTHORIZED = "unauthorized"
    FORBIDDEN = "forbidden"
    NOT_FOUND = "not-found"
    UPGRADE_REQUIRED = "upgrade-required"
    REDIRECTED = "redirected"
    OTHER = "other"


class Reply(msgspec.Struct, frozen=True):
    """A complete response. `location` is where a redirect points, `path` the resource that gave this answer."""

    kind: Kind
    status: int
    content_type: str
    location: str
    body: bytes
    path: str


class _Head(msgspec.Struct, frozen=True):
    status: int
    fields: dict[bytes, bytes]

    def text(self, name: bytes) -> str:
        return self.fields.get(name, b"").decode("latin-1")


async def post(endpoint: Endpoint, body: bytes, wait_s: float) -> Reply:
    """Post an IPP message and return the response, redirects on the same host followed.

    `wait_s` is for all of it, in seconds. Raises NoAnswerError, MalformedHttpError, or OSError from connecting.
    """
    end = asyncio.get_running_loop().time() + wait_s
    for _ in range(MAX_REDIRECTS + 1):
        reply = await _exchange(endpoint, body, end)
        path = followed(endpoint, reply.location) if reply.kind is Kind.REDIRECTED else None
        if path is None:
            return reply
        endpoint = msgspec.structs.replace(endpoint, path=path)
    return reply


async def _exchange(endpoint: Endpoint, body: bytes, end: float) -> Reply:
    if endpoint.kept and (left := endpoint.kept.take(endpoint)):
        # The peer may have ended it meanwhile (RFC 9112 section 9.3.1); nothing that we ask changes anything there.
        with suppress(_UnheardError):
            return await _exchanged(endpoint, *left, body, end)
    import h11  # here, because it costs 16 ms and most commands never post

    channel = await connected(endpoint, end)
    framing = h11.Connection(h11.CLIENT, max_incomplete_event_size=MAX_HEAD)
    return await _exchanged(endpoint, channel, framing, body, end)


async def _exchanged(endpoint: Endpoint, channel: Channel, framing: h11.Connection, body: bytes, end: float) -> Reply:
    receiver = _Receiver(channel, framing)
    stays = False
    try:
        async with asyncio.timeout_at(end):
            reply = await receiver.exchange(endpoint, body)
            stays = endpoint.kept is not None and receiver.may_go_on()
    except TimeoutError:
        raise NoAnswerError(f"accepted the connection, then sent {receiver.amount()}") from None
    except OSError as error:
        raise _broken(receiver, f"broke the connection ({error.strerror}) after sending {receiver.amount()}") from None
    finally:
        if not stays:
            channel.close()
    if endpoint.kept and stays:
        endpoint.kept.leave(endpoint, channel, framing)
    return reply


class _UnheardError(MalformedHttpError):
    """A connection that had served before ended without a word."""


def _broken(receiver: _Receiver, words: str) -> MalformedHttpError:
    return _UnheardError(words) if receiver.again and not receiver.received else MalformedHttpError(words)


class _Receiver:
    """The client's side of one exchange, counting what comes in. ``again``: the connection has served before."""

    def __init__(self, channel: Channel, framing: h11.Connection) -> None:
        import h11

        self._h11 = h11
        self._channel = channel
        self._connection = framing
        self.again = framing.our_state is h11.DONE
        self.received = 0
        self._content = bytearray()
        if self.again:
            framing.start_next_cycle()

    def amount(self) -> str:
        return f"{self.received} octets of an answer" if self.received else "nothing"

    def may_go_on(self) -> bool:
        """Would another request be in order on this connection?"""
        done = self._h11.DONE
        over = self._connection.our_state is done and self._connection.their_state is done
        return over and not self._connection.trailing_data[0]

    async def exchange(self, endpoint: Endpoint, body: bytes) -> Reply:
        await self._channel.send(b"".join(self._request(endpoint, body)))  # in one segment where it fits
        with self._peers_fault():
            head = await self._head()
            content = await self._body(head)
        content_type = head.text(b"content-type").partition(";")[0].strip().lower()
        kind = _kind(head.status, content_type)
        return Reply(kind, head.status, content_type, head.text(b"location"), content, endpoint.path)

    def _request(self, endpoint: Endpoint, body: bytes) -> Iterator[bytes]:
        fields = {
            "Host": endpoint.authority,
            "Content-Type": _IPP,
            "Content-Length": str(len(body)),
            "Accept": _IPP,
            "Accept-Encoding": "identity",
            "User-Agent": "netcheck",
            "Connection": "keep-alive" if endpoint.kept else "close",
        }
        request = self._h11.Request(method="POST", target=endpoint.path, headers=list(fields.items()))
        for event in (request, self._h11.Data(body), self._h11.EndOfMessage()):
            yield self._connection.send(event) or b""

    @contextmanager
    def _peers_fault(self) -> Iterator[None]:
        try:
            yield
        except self._h11.RemoteProtocolError as error:
            raise _broken(self, f"{error}, after {self.amount()}") from None

    async def _event(self) -> h11.Event:
        """The next event, reading from the peer until there is one."""
        while (event := self._connection.next_event()) is self._h11.NEED_DATA:
            octets = await self._channel.receive()
            self.received += len(octets)
            if self.received - len(self._content) > _MAX_FRAMING:
                raise MalformedHttpError(f"more than {_MAX_FRAMING} octets that are no content")
            self._connection.receive_data(octets)
        if not isinstance(event, self._h11.Event) or isinstance(event, self._h11.ConnectionClosed):
            raise _broken(self, f"ended the conversation after {self.amount()}")
        return event

    async def _head(self) -> _Head:
        for _ in range(_MAX_INFORMATIONAL):
            event = await self._event()
            if isinstance(event, self._h11.Response):
                return _Head(event.status_code, dict(reversed(list(event.headers))))
        raise MalformedHttpError(f"{_MAX_INFORMATIONAL} informational responses and no other")

    async def _body(self, head: _Head) -> bytes:
        coding = head.text(b"content-encoding").strip().lower()
        if coding not in {"", "identity"}:
            raise MalformedHttpError("compressed the answer although only identity was accepted")
        announced = int(head.text(b"content-length") or 0)  # h11 lets nothing but 20 digits pass
        if announced > MAX_BODY:
            raise MalformedHttpError(f"announced {announced} octets, more than {MAX_BODY}")
        while not isinstance(event := await self._event(), self._h11.EndOfMessage):
            if isinstance(event, self._h11.Data):
                self._content += event.data
            if len(self._content) > MAX_BODY:
                raise MalformedHttpError(f"a body of more than {MAX_BODY} octets")
        return bytes(self._content)


_KINDS: Final = {
    401: Kind.UNAUTHORIZED,
    403: Kind.FORBIDDEN,
    404: Kind.NOT_FOUND,
    426: Kind.UPGRADE_REQUIRED,
}


def _kind(status: int, content_type: str) -> Kind:
    if status == 200:
        return Kind.IPP if content_type in {_IPP, ""} else Kind.NOT_IPP
    return Kind.REDIRECTED if status in {301, 302, 307, 308} else _KINDS.get(status, Kind.OTHER)
