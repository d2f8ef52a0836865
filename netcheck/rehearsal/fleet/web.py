"""Just enough HTTP/1.1 to carry IPP at speed (RFC 9112). Pure: octets in, octets out; one object a connection.

POST with a Content-Length goes to the printer, GET of the front page gets it, and everything else is refused in HTTP.
Written for this alone, so that the fleet shares no framing with the probe that reads it.
"""

from __future__ import annotations

from collections.abc import Callable

MAX_HEAD, MAX_BODY = 16 << 10, 64 << 10
_CONTINUE = b"HTTP/1.1 100 Continue\r\n\r\n"
_PHRASES = {
    200: "OK",
    400: "Bad Request",
    404: "Not Found",
    405: "Method Not Allowed",
    411: "Length Required",
    413: "Content Too Large",
    415: "Unsupported Media Type",
}

Answer = Callable[[str, bytes], bytes | None]
"""What the printer at a path says to an IPP request; None where there is none. ValueError: that was no IPP."""


class Conversation:
    """One connection to the IPP or web port of a device."""

    def __init__(self, answer: Answer, page: bytes) -> None:
        self._answer, self._page = answer, page
        self._received = b""
        self._told_to_continue = False

    def take(self, octets: bytes) -> tuple[bytes, bool]:
        """What to send now that these octets came in, and whether the connection stays open after that."""
        self._received += octets
        if not self._received[:1].isalpha():
            return _ended(400)  # TLS, say: a method is letters (RFC 9110 s9.1), and a server says so at once
        head, end, rest = self._received.partition(b"\r\n\r\n")
        if not end:
            return _ended(413) if len(head) > MAX_HEAD else (b"", True)
        line, *fields = head.decode("latin-1").split("\r\n")
        said = {name.strip().lower(): value.strip() for name, _, value in (field.partition(":") for field in fields)}
        method, path, *_ = (*line.split(" "), "", "")
        if method != "POST":
            return _response(200, self._page, "text/plain") if (method, path) == ("GET", "/") else _ended(405)
        refusal = _refusal(said)
        if refusal:
            return _ended(refusal)
        length = int(said["content-length"])
        if len(rest) < length:
            return self._awaited(said), True
        self._received, self._told_to_continue = rest[length:], False
        return self._printed(path, rest[:length], keep="close" not in said.get("connection", "").lower())

    def _awaited(self, said: dict[str, str]) -> bytes:
        if self._told_to_continue or said.get("expect", "").lower() != "100-continue":
            return b""
        self._told_to_continue = True
        return _CONTINUE

    def _printed(self, path: str, body: bytes, *, keep: bool) -> tuple[bytes, bool]:
        try:
            octets = self._answer(path, body)
        except ValueError:
            return _ended(400)
        return _ended(404) if octets is None else _response(200, octets, "application/ipp", keep=keep)


def _refusal(said: dict[str, str]) -> int:
    """The status to refuse a POST with; 0 for one that will do."""
    if said.get("content-type", "").partition(";")[0].strip() != "application/ipp":
        return 415
    if not said.get("content-length", "").isdecimal():
        return 411
    return 413 if int(said["content-length"]) > MAX_BODY else 0


def _ended(status: int) -> tuple[bytes, bool]:
    return _response(status, b"", "text/plain")


def _response(status: int, body: bytes, kind: str, *, keep: bool = False) -> tuple[bytes, bool]:
    fields = [f"HTTP/1.1 {status} {_PHRASES[status]}", f"Content-Type: {kind}", f"Content-Length: {len(body)}"]
    if not keep:
        fields.append("Connection: close")
    return "\r\n".join((*fields, "", "")).encode() + body, keep
