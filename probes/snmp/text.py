"""What octets say as text. Data and pure functions; the harvest reads every string through here.

The standard has a simple answer: localized objects are in the character set of the localization in use, all others in
ASCII or UTF-8 (RFC 3805 s2.2.1.1, s6). Devices have another. Firmware that has moved to UTF-8 goes on declaring the
one-octet set of its predecessor; fixed buffers are padded, hold rubbish behind their terminator, and cut a character
in two. So what is well-formed UTF-8 with something beyond ASCII in it is UTF-8, whatever single-octet set was declared:
text in such a set is practically never well-formed by accident. Sets with shifts or several octets a character are
believed first, as theirs may be. Seen in the field; common practice, no source.
"""

import codecs
from functools import lru_cache
from typing import Final

UTF_8: Final = "utf-8"
CHARSETS: Final[dict[int, str]] = {  # IANA MIBenum of prtLocalizationCharacterSet, and Python's name of the codec
    3: "ascii",
    **{3 + part: f"iso8859-{part}" for part in range(1, 11)},
    17: "shift_jis",
    18: "euc_jp",
    37: "iso2022_kr",
    38: "euc_kr",
    39: "iso2022_jp",
    40: "iso2022_jp_2",
    106: UTF_8,
    **{96 + part: f"iso8859-{part}" for part in (13, 14, 15, 16)},
    113: "gbk",
    114: "gb18030",
    1000: "utf-16-be",
    1013: "utf-16-be",
    1014: "utf-16-le",
    1015: "utf-16",
    2004: "hp-roman8",
    2009: "cp850",
    2010: "cp852",
    2011: "cp437",
    2013: "cp862",
    2024: "cp932",
    2025: "gb2312",
    2026: "big5",
    2027: "mac-roman",
    2046: "cp855",
    2047: "cp857",
    2084: "koi8-r",
    2085: "hz",
    2086: "cp866",
    2087: "cp775",
    2088: "koi8-u",
    2089: "cp858",
    2109: "cp874",
    **{1000 + page: f"cp{page}" for page in range(1250, 1259)},
    2259: "tis-620",
}
_TWO_OCTETS: Final = frozenset({"utf-16", "utf-16-be", "utf-16-le"})
_BELIEVED: Final = frozenset(
    {"shift_jis", "cp932", "euc_jp", "euc_kr", "iso2022_kr", "iso2022_jp", "iso2022_jp_2", "gb2312", "gbk", "gb18030"}
    | {"big5", "hz"}
)
_BLANKS: Final = " \t\r\n\0"


def decoded(octets: bytes, charset: str = UTF_8) -> str:
    """Text in a declared character set as far as it holds, without what the agent pads or terminates it with.

    Latin-1, which reads anything, comes last.
    """
    return _known(octets, charset) if len(octets) <= _KNOWN_OCTETS else _decoded(octets, charset)


_KNOWN_OCTETS: Final = 64  # what is longer is decoded each time: what a peer invents must not fill the memory


def _decoded(octets: bytes, charset: str) -> str:
    if charset in _TWO_OCTETS:
        if charset == "utf-16":  # big-endian unless it says otherwise, RFC 2781 s4.3
            charset = "utf-16-le" if octets.startswith(codecs.BOM_UTF16_LE) else "utf-16-be"
        wide = None if b"\0" not in octets and _utf_8(octets) is not None else _strictly(octets, charset)
        if wide is not None:
            return wide.removeprefix("\ufeff").lstrip("\0").partition("\0")[0].rstrip(_BLANKS)
    text = octets.lstrip(b"\0").partition(b"\0")[0].rstrip(b" \t\r\n")
    for codec in (charset, UTF_8) if charset in _BELIEVED else (UTF_8, charset):
        found = _utf_8(text) if codec == UTF_8 else _strictly(text, codec)
        if found is not None:
            return found
    return text.decode("latin-1")


_known = lru_cache(4096)(_decoded)


def _utf_8(octets: bytes) -> str | None:
    """UTF-8, without the last character where it is cut in two; a lone incomplete one does not make it UTF-8."""
    found = _strictly(octets, UTF_8)
    if found is None:
        return None
    return None if found.isascii() and not octets.isascii() else found


def _strictly(octets: bytes, codec: str) -> str | None:
    """None for what is no text in it; an incomplete last character is left out."""
    try:
        return codecs.getincrementaldecoder(codec)().decode(octets)
    except UnicodeDecodeError:
        return None
