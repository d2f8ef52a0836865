"""Hardware addresses, and what is made of them: interface identifiers, UUIDs, engine identifiers.

Sources: RFC 9542 s2.1 (the group bit and the local bit; the blocks of protocols), RFC 4291 appendix A (EUI-64 with
ff:fe in the middle and the local bit turned over), RFC 9562 (version and variant of a UUID; version 1 ends in a
hardware address), RFC 3411 s5 (SnmpEngineID of format 3 is a hardware address).
"""

import re

from netcheck.redaction.keyed import Key

_BITS = 48
_GROUP, _LOCAL = 1 << 40, 2 << 40
_PROTOCOLS = (
    "00005e",  # IANA's own: VRRP, multicast of IPv4 (RFC 9542 s2.1)
    "01005e",
    "3333",  # multicast of IPv6 (RFC 2464 s7)
    "0180c2",  # bridges (IEEE 802.1D, from memory)
    "00000c07ac",  # standby routers (HSRP, from memory)
    "00000c9ff",
)
_UUID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}", re.IGNORECASE)
_ENGINE = re.compile(r"((?:0x)?[89a-f][0-9a-f]{7}03)([0-9a-f]{12})", re.IGNORECASE)


def bare(mac: str) -> str:
    """Twelve hexadecimal digits in small letters, of any spelling; "" for what is no hardware address."""
    parts = re.split(r"[:-]", mac.strip())
    text = "".join(part.zfill(2) for part in parts) if len(parts) == 6 else re.sub(r"[:.\- ]", "", mac)
    return text.lower() if re.fullmatch(r"[0-9A-Fa-f]{12}", text) else ""


class Hardware:
    """What hardware addresses become. ``known`` are those that fields of the case hold, as twelve digits."""

    def __init__(self, key: Key, known: set[str]) -> None:
        self._key, self.known = key, known
        self._made: dict[str, str] = {}
        self._taken: set[str] = set()
        self._hex: dict[str, str] = {}

    def mac(self, text: str) -> str:
        """The same spelling of another, locally administered address; what belongs to nobody stays."""
        digits = iter(self.digits(bare(text)))
        parts = re.split(r"([:-])", text)
        if len(parts) == 11:  # 2:77:0:0:0:22, as some systems print it
            text = "".join(part.zfill(2) if at % 2 == 0 else part for at, part in enumerate(parts))
        return _as_large(text, "".join(next(digits) if char.isalnum() else char for char in text))

    def digits(self, mac: str) -> str:
        """The same of twelve digits."""
        if not int(mac, 16) or mac == "f" * 12 or mac.startswith(_PROTOCOLS):
            return mac
        if mac not in self._made:
            draw = 0
            while (drawn := self._draw(mac, draw)) in self._taken or drawn in self.known:
                draw += 1
            self._taken.add(drawn)
            self._made[mac] = drawn
        return self._made[mac]

    def _draw(self, mac: str, draw: int) -> str:
        group = int(mac, 16) & _GROUP
        number = self._key.number("mac", mac, _BITS, draw) & ~_GROUP | _LOCAL | group
        return f"{number:012x}"

    def interface_identifier(self, identifier: int) -> int:
        """The lower half of an IPv6 address: that of the new hardware address, or one that tells nothing. None at all
        is the routers' own (RFC 4291 s2.6.1), and stays."""
        octets = identifier.to_bytes(8, "big")
        if octets[3:5] == b"\xff\xfe":
            mac = int.from_bytes(octets[:3] + octets[5:], "big") ^ _LOCAL
            new = (int(self.digits(f"{mac:012x}"), 16) ^ _LOCAL).to_bytes(6, "big")
            return int.from_bytes(new[:3] + b"\xff\xfe" + new[3:], "big")
        if not identifier:
            return 0
        return int(self.hexadecimal(f"{identifier:016x}"), 16)

    def uuid(self, text: str) -> str:
        """Another UUID of the same version and variant; where it ends in a hardware address, in the new one."""
        new = self.uuid_digits(text.replace("-", "").lower())
        digits = iter(new)
        return _as_large(text, "".join(next(digits) if char != "-" else char for char in text))

    def uuid_digits(self, plain: str) -> str:
        """The same of thirty-two digits; the two that are no machine's (RFC 9562 s5.9, s5.10) stay."""
        if plain in {"0" * 32, "f" * 32}:
            return plain
        new = self.hexadecimal(plain)
        node = plain[20:]
        if node in self.known or (plain[12] == "1" and not int(node[:2], 16) & 1):
            new = new[:20] + self.digits(node)
        return f"{new[:12]}{plain[12]}{new[13:16]}{plain[16]}{new[17:]}"

    def hexadecimal(self, plain: str) -> str:
        """As many other hexadecimal digits: of a fingerprint, of octets that nobody could read."""
        key = plain.lower()
        if key not in self._hex:
            bits, draw = 4 * len(key), 0
            while (new := f"{self._key.number('hex', key, bits, draw):0{len(key)}x}") == key and draw < 8:
                draw += 1
            self._hex[key] = new
        return _as_large(plain, self._hex[key])

    def in_digits(self, text: str) -> str:
        """A long run of hexadecimal digits in free text: whatever in it is a hardware address, or all of it."""
        low = text.lower()
        if len(low) == 12 and (low in self.known or (re.search("[a-f]", low) and re.search("[0-9]", low))):
            return self.mac(text)
        if engine := _ENGINE.fullmatch(text):
            return engine[1] + self.mac(engine[2])
        if len(low) == 32 and not low.isdecimal():
            return _as_large(text, self.uuid_digits(low))
        for mac in self.known:
            if mac in low:
                at = low.index(mac)
                return text[:at] + self.mac(text[at : at + 12]) + text[at + 12 :]
        return text if low.isdecimal() or len(low) < 16 or low.startswith("0x") else self.hexadecimal(text)


def is_uuid(text: str) -> bool:
    """Is it one in its usual form?"""
    return _UUID.fullmatch(text) is not None


def _as_large(like: str, text: str) -> str:
    return text.upper() if like.isupper() else text
