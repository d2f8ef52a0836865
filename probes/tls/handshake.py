"""Stage: ask, one handshake. A connection, TLS as far as the certificate, and the end; nothing else is ever sent.

TLS is spoken over memory buffers, so that the octets pass through here: they are counted, and the first ones tell a
port that speaks something else (plain HTTP, mostly) from one whose TLS is broken. Time is the caller's.
"""

import asyncio
import errno
import os
import socket
import ssl
from typing import Final, TypeAlias

import msgspec

from netcheck.probing import Deadline
from netcheck.roles import Outcome
from netcheck.wire import socket_address

MAX_OCTETS: Final = 256 << 10
"""What a peer may send before the handshake is over. OpenSSL itself takes 100 KiB of certificates."""
PATIENCE_S: Final = 3.0
"""For a handshake. A web server that speaks no TLS may wait for the rest of what it takes for a request for minutes."""
CONNECT_S: Final = 3.5
"""Long enough for the third SYN (after 0, 1 and 3 s; RFC 6298 section 2) and for a failed address resolution."""

_READ: Final = 16 << 10
_CONTENT_TYPES: Final = range(20, 25)  # RFC 8446 section 5.1 and RFC 6520: the first octet of every record
_MAJOR_VERSION: Final = 3  # the second one, in all versions since SSL 3.0 (RFC 8446 section 5.1)


class Shaken(msgspec.Struct, frozen=True):
    """The handshake succeeded. ``der`` is the peer's own certificate, ``version`` as ``TLSv1.3``; ``chain_length``
    counts all certificates that it sent, 0 where this Python does not tell."""

    version: str
    der: bytes
    chain_length: int


class Untrusted(msgspec.Struct, frozen=True):
    """The peer speaks TLS, and our system does not trust its certificate; ``why`` in OpenSSL's words."""

    why: str


class Failed(msgspec.Struct, frozen=True):
    """No handshake. ``otherwise``: it may succeed by other versions or ciphers."""

    outcome: Outcome
    reason: str
    otherwise: bool = False


Result: TypeAlias = Shaken | Untrusted | Failed


async def shake(address: str, port: int, name: str, context: ssl.SSLContext, deadline: Deadline) -> Result:
    """Connect to a literal address, and shake hands with whoever is there, calling it ``name``."""
    family, where = socket_address(address, port, socket.SOCK_STREAM)
    with socket.socket(family, socket.SOCK_STREAM) as sock:
        sock.setblocking(False)
        try:
            async with asyncio.timeout(min(CONNECT_S, deadline.left())):
                await asyncio.get_running_loop().sock_connect(sock, where)
        except TimeoutError:
            return Failed(Outcome.SILENT, "did not answer the attempt to connect")
        except (ConnectionRefusedError, ConnectionResetError) as error:
            return Failed(Outcome.REFUSED, f"nothing listens there ({errno.errorcode.get(error.errno or 0, '')})")
        except OSError as error:
            return Failed(Outcome.UNREACHABLE, _in_words(error))
        return await _Conversation(sock, context, name).result(deadline)


def _in_words(error: OSError) -> str:
    name = errno.errorcode.get(error.errno or 0)
    return f"{os.strerror(error.errno or 0)} ({name})" if name else str(error)


class _Conversation:
    """Our side of one connection, counting what comes in."""

    def __init__(self, sock: socket.socket, context: ssl.SSLContext, name: str) -> None:
        self._sock = sock
        self._incoming, self._outgoing = ssl.MemoryBIO(), ssl.MemoryBIO()
        self._tls = context.wrap_bio(self._incoming, self._outgoing, server_hostname=name)
        self._first = b""
        self._received = 0

    async def result(self, deadline: Deadline) -> Result:
        try:
            async with asyncio.timeout(min(PATIENCE_S, deadline.left())):
                return await self._shaken()
        except TimeoutError:
            return Failed(Outcome.SILENT, f"accepted the connection, then sent {self._amount()}")
        except ssl.SSLCertVerificationError as error:
            return Untrusted(error.verify_message)
        except ssl.SSLError as error:
            return self._failed(error)
        except OSError as error:
            reason = f"broke the connection after sending {self._amount()}: {_in_words(error)}"
            return Failed(Outcome.MALFORMED, reason, otherwise=True)

    async def _shaken(self) -> Result:
        loop = asyncio.get_running_loop()
        while not self._is_over():
            await loop.sock_sendall(self._sock, self._outgoing.read())
            octets = await loop.sock_recv(self._sock, _READ)
            self._received += len(octets)
            if self._received > MAX_OCTETS:
                return Failed(Outcome.MALFORMED, f"sent more than {MAX_OCTETS} octets and was not done")
            self._first = self._first or octets
            if octets:
                self._incoming.write(octets)
            else:
                self._incoming.write_eof()
        # The peer's side is not over until it has our last words.
        await loop.sock_sendall(self._sock, self._outgoing.read())
        der = self._tls.getpeercert(binary_form=True)
        if not der:
            return Failed(Outcome.MALFORMED, "speaks TLS, and showed no certificate")
        return Shaken(self._tls.version() or "", der, _chain_length(self._tls))

    def _is_over(self) -> bool:
        try:
            self._tls.do_handshake()
        except ssl.SSLWantReadError:
            return False
        return True

    def _failed(self, error: ssl.SSLError) -> Failed:
        """Who is at fault, by what the peer said first."""
        words = (error.reason or str(error)).lower().replace("_", " ")
        if not self._first:
            return Failed(Outcome.MALFORMED, "closed the connection without a word", otherwise=True)
        if self._first.startswith(b"HTTP/"):
            return Failed(Outcome.MALFORMED, "not TLS: answers in plain HTTP")
        if self._first[0] not in _CONTENT_TYPES or self._first[1:2] != bytes((_MAJOR_VERSION,)):
            return Failed(Outcome.MALFORMED, "not TLS: answers in another protocol")
        if " alert " in words:
            return Failed(Outcome.FAILED, f"speaks TLS and refused us: {words.partition(' alert ')[2]}", otherwise=True)
        return Failed(Outcome.MALFORMED, f"broke off or broke TLS: {words}", otherwise=True)

    def _amount(self) -> str:
        return f"{self._received} octets" if self._received else "nothing"


def _chain_length(tls: ssl.SSLObject) -> int:
    """How many certificates came. Python tells from 3.13 on; 3.10 to 3.12 have the same method one object deeper, where
    nothing is promised, so that it may be missing there."""
    for holder in (tls, getattr(tls, "_sslobj", None)):
        if tell := getattr(holder, "get_unverified_chain", None):
            return len(tell() or ())
    return 0
