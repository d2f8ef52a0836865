"""A multicast DNS responder on loopback that says exactly what a test wants, octet by octet (RFC 1035, RFC 6762).

It is made by hand and not with the library that the probe listens with, so that it can leave out what a proper
responder sends along, claim what is another's, and say nonsense.
"""

import socket
import struct
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from types import TracebackType
from typing import Final, Self

LOOPBACK: Final = "127.0.0.1"
GROUP: Final = ("224.0.0.251", 5353)  # RFC 6762 s3
A, PTR, TXT, SRV = 1, 12, 16, 33  # RFC 1035 s3.2.2, RFC 2782
_IN, _FLUSH, _QR, _RESPONSE = 1, 0x8000, 0x8000, 0x8400  # RFC 6762 s10.2, s18.2, s18.4
Question = tuple[str, int]


def name(text: str) -> bytes:
    """Labels of a name; the part before the type is one label, whatever is in it."""
    label, separator, kind = text.partition("._")
    labels = [label, *f"_{kind}".split(".")] if separator and not text.startswith("_") else text.split(".")
    return b"".join(bytes([len(octets)]) + octets for octets in map(str.encode, labels)) + b"\0"


def record(owner: str, kind: int, data: bytes, ttl: int = 120, flush: int = _FLUSH) -> bytes:
    return name(owner) + struct.pack("!HHIH", kind, _IN | flush, ttl, len(data)) + data


def ptr(service: str, instance: str, ttl: int = 4500) -> bytes:
    return record(service, PTR, name(instance), ttl, flush=0)


def srv(instance: str, host: str, port: int) -> bytes:
    return record(instance, SRV, struct.pack("!HHH", 0, 0, port) + name(host))


def txt(instance: str, *strings: bytes) -> bytes:
    return record(instance, TXT, b"".join(bytes([len(each)]) + each for each in strings) or b"\0", 4500)


def a(host: str, address: str) -> bytes:
    return record(host, A, socket.inet_aton(address))


def message(*answers: bytes, additional: Sequence[bytes] = ()) -> bytes:
    header = struct.pack("!HHHHHH", 0, _RESPONSE, 0, len(answers), 0, len(additional))
    return header + b"".join(answers) + b"".join(additional)


def questions(query: bytes) -> Iterator[Question]:
    """Names in lower case, and types, of a query; nothing of a response."""
    flags, count = struct.unpack_from("!HH", query.ljust(12, b"\0"), 2)
    position = 12
    for _ in range(0 if flags & _QR else count):
        labels, position = _labels(query, position)
        yield ".".join(labels).lower(), struct.unpack_from("!H", query, position)[0]
        position += 4


def _labels(octets: bytes, position: int) -> tuple[list[str], int]:
    labels, after = [], 0
    while octets[position]:
        if octets[position] >= 0xC0:  # RFC 1035 s4.1.4: the rest stands elsewhere
            after = after or position + 2
            position = struct.unpack_from("!H", octets, position)[0] & 0x3FFF
        else:
            end = position + 1 + octets[position]
            labels.append(octets[position + 1 : end].decode())
            position = end
    return labels, after or position + 1


class Responder:
    """Multicasts the messages that belong to a question, each time that somebody asks it, between `with` and its end.
    ``asked`` has every question that was heard."""

    def __init__(self, answers: Mapping[Question, Sequence[bytes]]) -> None:
        self.asked: list[Question] = []
        self._answers = {(text.lower(), kind): each for (text, kind), each in answers.items()}
        self._done = threading.Event()
        self._socket = _member()
        self._thread = threading.Thread(target=self._serve, name="mDNS responder", daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._done.set()
        self._thread.join(5)
        self._socket.close()

    def leave(self, *goodbyes: bytes) -> None:
        """Say these, and then nothing more."""
        self._answers.clear()
        for octets in goodbyes:
            self.send(octets)

    def send(self, octets: bytes) -> None:
        """Unasked."""
        self._socket.sendto(octets, GROUP)

    def _serve(self) -> None:
        while not self._done.is_set():
            try:
                query = self._socket.recv(9000)
            except TimeoutError:
                continue
            with suppress(IndexError, UnicodeDecodeError, struct.error):  # the nonsense that tests send comes here too
                for question in questions(query):
                    self.asked.append(question)
                    for octets in self._answers.get(question, ()):
                        self.send(octets)


def _member() -> socket.socket:
    member = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    member.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    if hasattr(socket, "SO_REUSEPORT"):
        member.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEPORT, 1)
    member.bind(("", GROUP[1]))
    here = socket.inet_aton(LOOPBACK)
    member.setsockopt(socket.IPPROTO_IP, socket.IP_ADD_MEMBERSHIP, socket.inet_aton(GROUP[0]) + here)
    member.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, here)
    member.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_TTL, 255)
    member.settimeout(0.1)
    return member
