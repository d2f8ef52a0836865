"""What is put together of several things: URIs, hosts, distinguished names, pairs. Stage: between field and atom.

The same walk is made three times over a case, each time with other `Atoms`: once to gather what there is (addresses and
networks, serial numbers, hardware addresses, models), once to name it, and once, with every name known, to replace it.
"""

import re
from typing import Any, Protocol
from urllib.parse import quote, unquote

from netcheck.place import parse_host
from netcheck.redaction.addresses import parse
from netcheck.redaction.hardware import bare, is_uuid
from netcheck.redaction.treatment import DEVICE_ID, SEEN, TXT, WORDS, Treatment, treatment_of

T = Treatment
_KEYWORD = re.compile(r"[a-z0-9*][a-z0-9_.+/*-]*")
_URI = re.compile(r"([A-Za-z][A-Za-z0-9+.-]*)://([^/?#]*)([^?#]*)(?:\?([^#]*))?(?:#(.*))?", re.DOTALL)
_USUAL_LABELS = frozenset[str]().union(
    ("*", "local", "localhost", "localdomain", "arpa", "in-addr", "ip6", "lan", "home", "internal"),
    ("example", "test", "invalid", "com", "net", "org", "www", "_tcp", "_udp", "_sub", "_services", "_dns-sd"),
    ("_ipp", "_ipps", "_printer", "_pdl-datastream", "_http", "_https", "_universal", "_print"),
)
_USUAL_STEPS = re.compile(
    r"(?:ipps?|lp|pr|print|printers?|class(?:es)?|queue|port|raw|fax|scan|auto|p|l)\d{0,2}|index\.html?"
)
_MAKERS = {"usb", "hp", "hpfax", "gutenprint"}
"""Schemes of device URIs that name a model where others name a host (common practice, no source)."""
_INTERFACE = re.compile(
    r"(?:lo|eth|en|wl|ww|br|bond|team|veth|tun|tap|utun|awdl|llw|docker|virbr|vmnet|ppp|bridge|usb|ap|anpi|gif|stf)"
    r"(?:[a-z]{0,3}\d{1,4}){0,4}(?:[.:@]\w{1,6})?"
    r"|(?:Ethernet|Wi-Fi|WLAN|LAN-Verbindung|Local Area Connection|Loopback Pseudo-Interface)\*? ?\d{0,3}"
)
_KEY = re.compile(r"[A-Z0-9_. -]{1,24}|[a-z0-9_.-]{1,40}")
_REVERSE_FOUR = re.compile(r"((?:\d{1,3}\.){4})(in-addr\.arpa\.?)", re.IGNORECASE)
_REVERSE_SIX = re.compile(r"((?:[0-9a-f]\.){32})(ip6\.arpa\.?)", re.IGNORECASE)
_ATTRIBUTE = re.compile(r"(?<!\\)([,+])")
_PERSONAL = re.compile(r"user|owner|name|account|password|phone|mail|email|info|location", re.IGNORECASE)
_ORDINARY_TIME = re.compile(r"[\d\s:.,/+TZ-]*|(?:today|tomorrow|now)", re.IGNORECASE)
_ORDINARY_PLACES = {"panel", "plate", "box", "screen", "display", "label", "printed page", "web page"}


class Atoms(Protocol):
    """What a walk does with what it finds. Each takes a text as it is spelled, and returns what stands there now."""

    def name(self, text: str, word: str) -> str: ...
    def serial(self, text: str) -> str: ...
    def mac(self, text: str) -> str: ...
    def uuid(self, text: str) -> str: ...
    def hexadecimal(self, text: str) -> str: ...
    def address(self, text: str) -> str: ...
    def network(self, text: str, length: int | str) -> None: ...
    def model(self, text: str) -> str: ...
    def version(self, text: str) -> str: ...
    def instance(self, text: str) -> str: ...
    def text(self, text: str) -> str: ...


class Fields:
    """Takes fields apart, and puts them together again of what the atoms have become."""

    def __init__(self, atoms: Atoms) -> None:
        self.atoms = atoms

    def one(self, treatment: Treatment, text: str) -> str:
        """One string. What is empty says nothing, and goes on saying so."""
        if not text or treatment is T.KEEP:
            return text
        if word := WORDS.get(treatment):
            return self.atoms.name(text, word)
        return str(getattr(self, treatment.name.lower())(text))

    def text(self, text: str) -> str:
        return self.atoms.text(text)

    def keyword(self, text: str) -> str:
        return text if _KEYWORD.fullmatch(text) else self.atoms.text(text)

    def model(self, text: str) -> str:
        return self.atoms.model(text)

    def version(self, text: str) -> str:
        return self.atoms.version(text)

    def serial(self, text: str) -> str:
        return self.atoms.serial(text)

    def instance(self, text: str) -> str:
        return self.atoms.instance(text)

    def moment(self, text: str) -> str:
        return text if _ORDINARY_TIME.fullmatch(text) else self.atoms.name(text, "time")

    def where(self, text: str) -> str:
        return text if text.casefold() in _ORDINARY_PLACES else self.atoms.name(text, "place")

    def file(self, text: str) -> str:
        stem, dot, ending = text.rpartition(".")
        if text.casefold() == "standard.toml":
            return text
        return self.atoms.name(stem, "file") + dot + ending if dot else self.atoms.name(text, "file")

    def mac(self, text: str) -> str:
        return self.atoms.mac(text) if bare(text) else self.atoms.text(text)

    def hexadecimal(self, text: str) -> str:
        if re.fullmatch(r"[0-9A-Fa-f]+", text):
            return self.atoms.hexadecimal(text)
        return self.atoms.serial(text)

    def identifier(self, text: str) -> str:
        prefix = "urn:uuid:" if text[:9].casefold() == "urn:uuid:" else ""
        rest = text[len(prefix) :]
        return text[: len(prefix)] + (self.atoms.uuid(rest) if is_uuid(rest) else self.atoms.serial(rest))

    def address(self, text: str) -> str:
        host, slash, length = text.partition("/")
        if parse(host) is None:
            return self.host(text)
        if slash:
            self.atoms.network(host, length)
        bare_, percent, zone = host.partition("%")
        return self.atoms.address(bare_) + percent + (self.interface(zone) if zone else "") + slash + length

    def literal(self, text: str) -> str:
        """What looks like an address in a text, and need not be one."""
        return text if parse(text) is None else self.address(text)

    def interface(self, text: str) -> str:
        if parse(text) is not None:
            return self.address(text)
        if text[:3] == "enx" and bare(text[3:]):  # a name by hardware address (systemd.net-naming-scheme(7))
            return "enx" + self.atoms.mac(text[3:])
        return text if _INTERFACE.fullmatch(text) else self.atoms.name(text, "interface")

    def host(self, text: str) -> str:
        if parse(text) is not None:
            return self.address(text)
        if four := _REVERSE_FOUR.fullmatch(text):
            return ".".join(self._reversed(four[1][:-1], ".").split(".")[::-1]) + f".{four[2]}"
        if six := _REVERSE_SIX.fullmatch(text):
            return self._reversed_six(six[1]) + six[2]
        return ".".join(map(self._label, text.split(".")))

    def _reversed(self, text: str, by: str) -> str:
        address = by.join(text.split(by)[::-1])
        return self.atoms.address(address) if parse(address) is not None else address

    def _reversed_six(self, nibbles: str) -> str:
        digits = nibbles.replace(".", "")[::-1]
        moved = parse(self.atoms.address(":".join(digits[at : at + 4] for at in range(0, 32, 4))))
        return "".join(f"{digit}." for digit in f"{int(moved):032x}"[::-1]) if moved else nibbles

    def _label(self, label: str) -> str:
        if label.casefold() in _USUAL_LABELS or not label.strip():
            return label
        return self.atoms.serial(label) if label.isdigit() else self.atoms.name(label, "host")

    def server(self, text: str) -> str:
        host, colon, port = text.rpartition(":")
        if not colon or not port.isdigit():
            return self.host(text)
        inner = host.strip("[]")
        return host.replace(inner, self.host(inner)) + colon + port if inner else text

    def path(self, text: str) -> str:
        return "/".join(map(self._step, text.split("/")))

    def _step(self, step: str) -> str:
        plain = unquote(step)
        if not plain or _USUAL_STEPS.fullmatch(plain.casefold()):
            return step
        new = self.atoms.name(plain, "queue")
        return quote(new, safe="") if quote(plain, safe="") != plain else new

    def uri(self, text: str) -> str:
        parts = _URI.fullmatch(text)
        if parts is None:
            return self.host(text) if _is_host(text) else _no_host(self.atoms.text(text))
        scheme, authority, path, query, fragment = parts.groups()
        if scheme.casefold() in _MAKERS:
            place = quote(self.atoms.model(unquote(authority + path)), safe="/")
        else:
            place = self._authority(authority) + self.path(path)
        asked = "" if query is None else "?" + "&".join(map(self._asked, query.split("&")))
        return f"{scheme}://{place}{asked}" + ("" if fragment is None else "#" + self.path(fragment))

    def _authority(self, text: str) -> str:
        user, at, place = text.rpartition("@")
        plain = unquote(place)
        if "._" in plain:  # a DNS-SD name in a host's place
            instance, _, service = plain.partition("._")
            return quote(self.atoms.instance(instance) + "._" + service, safe="")
        host, colon, port = place.rpartition(":") if re.search(r"(?:^[^:]*|\]):\d*$", place) else (place, "", "")
        bare_ = unquote(host).strip("[]")
        new = self.host(bare_) if bare_ else ""
        new = new if not bare_ or _is_host(bare_) else _no_host(new)
        new = f"[{new.replace('%', '%25')}]" if host.startswith("[") else new
        return (self.atoms.name(user, "person") if user else "") + at + new + colon + port

    def _asked(self, pair: str) -> str:
        key, equals, value = pair.partition("=")
        plain = unquote(value)
        match key.casefold():
            case "serial" | "sn":
                new = self.one(T.SERIAL, plain)
            case "uuid":
                new = self.one(T.IDENTIFIER, plain)
            case _ if len(plain) <= 3 or plain in {"true", "false"}:
                return pair
            case _:
                new = self.host(plain) if parse(plain) is not None else self.one(T.INSTANCE, plain)
        return key + equals + quote(new, safe=":")

    def distinguished_name(self, text: str) -> str:
        return "".join(part if at % 2 else self._relative_name(part) for at, part in enumerate(_ATTRIBUTE.split(text)))

    def _relative_name(self, part: str) -> str:
        key, equals, value = part.partition("=")
        if not equals:
            return self.one(T.NAME, part)
        if parse(value) is not None or ("." in value and " " not in value):
            return f"{key}={self.host(value)}"
        return f"{key}={self.one(T.INSTANCE if key.strip().upper() == 'CN' else T.NAME, value)}"

    def fact(self, kind: str, value: dict[str, Any]) -> dict[str, Any]:
        """A fact, as it is saved."""
        self._networks_of(kind, value)
        return {key: self._within(kind, key, inner) for key, inner in value.items()}

    def _networks_of(self, kind: str, value: dict[str, Any]) -> None:
        if kind in {"addresses", "own-interfaces"}:
            for row in value.get("rows", ()):
                if row.get("prefix_length") is not None:
                    self.atoms.network(row["address"], row["prefix_length"])

    def _within(self, kind: str, place: str, value: Any) -> Any:
        match value, f"{kind}.{place}":
            case str(), _:
                return self.one(treatment_of(kind, place), value)
            case list(), "device-id.pairs":
                return [self._pair(pair, DEVICE_ID.get(pair[0].upper(), T.INSTANCE)) for pair in value]
            case list(), "queue-defaults.options":
                return [self._pair(pair, T.NAME if _PERSONAL.search(pair[0]) else T.KEYWORD) for pair in value]
            case dict(), "advertisement.txt":
                return self._txt(value)
            case list(), _:
                return [self._within(kind, place, each) for each in value]
            case dict(), _:
                return {key: self._within(kind, f"{place}.{key}", each) for key, each in value.items()}
            case _:
                return value

    def _pair(self, pair: list[str], treatment: Treatment) -> list[str]:
        return [self._key(pair[0]), self.one(treatment, pair[1])]

    def _key(self, key: str) -> str:
        """The keys that devices use are all of them short, and in letters of one size (common practice, no source)."""
        return key if _KEY.fullmatch(key) or key.upper() in DEVICE_ID else self.one(T.INSTANCE, key)

    def _txt(self, entry: dict[str, Any]) -> dict[str, Any]:
        treatment, value = TXT.get(entry["key"], T.INSTANCE), entry["value"]
        if treatment is T.INSTANCE and re.fullmatch(r"[A-Za-z]|\d{1,4}|(?:true|false|none)", value or ""):
            treatment = T.KEEP
        return {
            "key": self._key(entry["key"]),
            "value": None if value is None else self.one(treatment, value),
            "binary": self.one(T.HEXADECIMAL, entry.get("binary", "")),
        }

    def tree(self, places: dict[str, Treatment], value: Any, place: str = "") -> Any:
        """The Move or the Standard, by its own table."""
        if isinstance(value, str):
            return self.one(places.get(place, T.TEXT), value)
        if isinstance(value, list | tuple):
            return [self.tree(places, each, place) for each in value]
        if not isinstance(value, dict):
            return value
        inner = {key: self.tree(places, each, f"{place}.{key}".lstrip(".")) for key, each in value.items()}
        if place == "seen":
            inner["value"] = self._seen(value["what"], value["value"])
        return inner

    def _seen(self, what: str, value: str) -> str:
        return self.address(value) if what == "address" else self.one(SEEN.get(what, T.TEXT), value)


def _no_host(text: str) -> str:
    """What cannot be a host must not become one: rules ask (RFC 1123 s2.1: no name begins with a dash)."""
    return f"-{text}" if _is_host(text) else text


def _is_host(text: str) -> bool:
    try:
        parse_host(text)
    except ValueError:
        return False
    return True
