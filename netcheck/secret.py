"""What must never be printed, logged or saved: our own secrets, and those that others let slip.

`Secret` holds one of ours. `Veil` stands where something is recorded (see collect) and takes out of any text what is in
it of ours, and the user and password of any URI. A device may echo a community in its own location, show a passphrase
as the octets of an identifier, or announce its pages under ``http://admin:...@``: none of that is for a file that is
mailed about.
"""

import base64
import re
from collections.abc import Iterable, Iterator
from functools import lru_cache
from typing import Any, ClassVar, Final, NamedTuple
from urllib.parse import quote

WITHHELD: Final = "(withheld)"
ANYWHERE: Final = 8
"""Characters from which on a secret of ours is taken out wherever it stands. A shorter one with letters and something
else in it is taken out where it stands by itself. One like ``public`` or ``open`` stays: it stands in such texts
anyway, and a hole in the place of a known word would tell what the word is."""
_SHORT: Final = 4
_SEPARATORS: Final = dict.fromkeys(map(ord, " :.-"))
_CUT: Final = "..."
"""What stands at the end of a text that somebody has cut."""

_AFTER_SLASHES: Final = re.compile(
    # A path, as which a URI is sometimes taken, has lost one of the two slashes.
    r"(//|(?<![a-z])(?:ipps?|https?|socket|lpd|ftp|smb):/(?!/))((?:(?!//)\S)+)",
    re.IGNORECASE,
)
_AUTHORITY: Final = re.compile(r"[^/?#]*")
_PORT: Final = re.compile(r"[^:]*|\[[^\]]*\](:\d*)?|.*:\d*")
_HOST: Final = re.compile(r"(\[[^\]]*\]|[^:]*\.[^:]*)(:\d*)?")
_ENCODED: Final = re.compile(r"(%3a%2f%2f)\S*%40", re.IGNORECASE)
_NO_PORT: Final = re.compile(r"://[^/?#@\[\]]*:(?!\d*(?:[/?#'\"]|$))")
_BARE: Final = re.compile(r"[^\s'\"(]+:\S*@")
_HEX: Final = re.compile(r"((?:[0-9a-f]{2}){4,})[0-9a-f]?(?:\.\.\..*)?", re.IGNORECASE)


class Secret:
    """Holds a community or passphrase. Only ``reveal`` gives it out; ``repr`` and ``str`` never do."""

    __slots__ = ("_value",)
    _made: ClassVar[set[str]] = set()

    def __init__(self, value: str) -> None:
        self._value = value
        self._made.add(value)

    def reveal(self) -> str:
        """The value itself, for the wire and nothing else."""
        return self._value

    @classmethod
    def made(cls) -> list["Secret"]:
        """All that this process has ever held."""
        return [cls(value) for value in sorted(cls._made)]

    def __repr__(self) -> str:
        return "Secret(...)"

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Secret) and self._value == other._value

    def __hash__(self) -> int:
        return hash(self._value)

    def __reduce__(self) -> str:
        raise TypeError("a secret is not copied into anything that is saved")


def without_userinfo(text: str) -> str:
    """A text without the user and password of any URI in it (RFC 3986 s3.2.1). Where it is not clear where a password
    ends, because it has delimiters in it, nothing of that URI is left but its scheme."""
    if "@" in text or _CUT in text:
        text = _AFTER_SLASHES.sub(_hostly, text)
    return _ENCODED.sub(r"\1", text) if "%40" in text else text


def _hostly(match: re.Match[str]) -> str:
    before, whole = match.groups()
    authority = _AUTHORITY.match(whole)
    named = authority[0] if authority else ""
    _, at, host = named.rpartition("@")
    rest = whole[len(named) :]
    if at:
        return f"{before}{WITHHELD}" if "@" in rest and not _HOST.fullmatch(host) else f"{before}{host}{rest}"
    # What stands where a port would and is none is a password, whose @ comes later or was cut off.
    told = ("@" in rest or whole.endswith(_CUT)) and not _PORT.fullmatch(named.removesuffix(_CUT))
    return f"{before}{WITHHELD}" if told else match[0]


def may_tell(text: str) -> bool:
    """May a person who typed this have typed a password? There is an @, or no port where one would be in a URI."""
    return "@" in text or "%40" in text or bool(_NO_PORT.search(text))


def harmless(message: str) -> str:
    """A message of ours, whatever it quotes: without any secret that we hold, and without what was typed before an @,
    which may be a user and a password."""
    return _BARE.sub(f"{WITHHELD}@", Veil(Secret.made()).text(message))


class Veil:
    """Takes secrets out of what is recorded."""

    def __init__(self, secrets: Iterable[Secret] = ()) -> None:
        self._secrets: dict[str, None] = {}
        self._own: re.Pattern[str] | None = None
        self._traces: tuple[str, ...] = ()
        self.hide(secrets)

    def hide(self, secrets: Iterable[Secret]) -> None:
        """From now on these as well."""
        self._secrets |= dict.fromkeys(filter(_is_telling, (secret.reveal() for secret in secrets)))
        self._own, self._traces = _looked_for(tuple(self._secrets))

    def text(self, text: str) -> str:
        """The text without any of it; octets in hexadecimal are withheld whole where it is in them."""
        if hexadecimal := _HEX.fullmatch(text):
            octets = bytes.fromhex(hexadecimal[1]).decode("latin-1")
            if self._readable(octets) != octets:
                return WITHHELD
        return self._readable(text)

    def plain(self, value: Any) -> Any:
        """The same for every text in a plain value; the keys of a dict are ours."""
        if isinstance(value, str):
            return self.text(value)
        if isinstance(value, dict):
            return {key: self.plain(each) for key, each in value.items()}
        if isinstance(value, list | tuple):
            return [self.plain(each) for each in value]
        return value

    def _readable(self, text: str) -> str:
        if self._own:
            squeezed = _squeezed(text)
            # Far cheaper than the pattern, and mostly the end of it.
            if any(trace in squeezed for trace in self._traces):
                text = self._own.sub(WITHHELD, text)
            if _CUT in text:
                text = self._uncut(text)
        return without_userinfo(text)

    def _uncut(self, text: str) -> str:
        """A text that was cut may end in the beginning of a secret."""
        head, _, tail = text.rpartition(_CUT)
        for secret in self._secrets:
            for length in range(len(secret) - 1, _SHORT - 1, -1):
                if head.lower().endswith(secret[:length].lower()):
                    return f"{head[:-length]}{WITHHELD}{_CUT}{tail}"
        return text


@lru_cache(16)
def _looked_for(secrets: tuple[str, ...]) -> tuple[re.Pattern[str] | None, tuple[str, ...]]:
    """The pattern of all forms of these, and their traces: worked out once for all devices that share them."""
    spellings = [each for secret in secrets for each in _spellings(secret)]
    own = re.compile("|".join(each.pattern for each in spellings), re.IGNORECASE) if spellings else None
    return own, tuple(dict.fromkeys(_squeezed(each.plain) for each in spellings))


def _is_telling(secret: str) -> bool:
    mixed = any(map(str.isalpha, secret)) and not all(map(str.isalpha, secret))
    return len(secret) >= ANYWHERE or (len(secret) >= _SHORT and mixed)


class _Spelling(NamedTuple):
    """A regular expression for one form of a secret, and that form without regard to what may stand in between."""

    pattern: str
    plain: str


def _squeezed(text: str) -> str:
    return text.lower().translate(_SEPARATORS)


def _spellings(secret: str) -> Iterator[_Spelling]:
    """What a secret may look like in a text: itself, percent-encoded, its octets in hexadecimal both ways round and as
    the decimal numbers of an object identifier, and in base64."""
    octets = secret.encode("utf-8", "surrogateescape")
    cases = (secret, secret.upper(), secret.lower())  # one letter may be two in the other case
    texts = dict.fromkeys((*cases, secret.strip(), octets.decode("latin-1"), quote(octets, safe=""), quote(octets)))
    before, behind = ("", "") if len(secret) >= ANYWHERE else (r"(?<![^\W_])", r"(?![^\W_])")
    for text in texts:
        yield _Spelling(before + re.escape(text) + behind, text)
    for row in (octets, octets[::-1]):
        yield _Spelling(before + "[ :.-]?".join(f"{octet:02x}" for octet in row) + behind, row.hex())
    numbers = ".".join(map(str, octets))
    yield _Spelling(rf"(?<!\d){re.escape(numbers)}(?!\d)", numbers)
    if len(secret) >= ANYWHERE:
        for shift in range(3):
            encoded = _base64(octets, shift)
            for each in (encoded, encoded.translate({ord("+"): "-", ord("/"): "_"})):
                yield _Spelling(re.escape(each), each)


def _base64(octets: bytes, before: int) -> str:
    """Of the octets in base64 what does not depend on their neighbours, with so many before them (RFC 4648 s4)."""
    encoded = base64.b64encode(bytes(before) + octets).decode().rstrip("=")
    first = (before * 8 + 5) // 6
    return encoded[first : (before + len(octets)) * 8 // 6]
