"""What is done with the single values: gathered on the first walk, replaced on the others."""

import re
from collections.abc import Callable

from netcheck.redaction.addresses import Addresses, Gathered
from netcheck.redaction.hardware import Hardware, bare
from netcheck.redaction.keyed import Key
from netcheck.redaction.names import Names, Serials, canonical_serial
from netcheck.redaction.text import USUAL_WORDS, Text, found_in, is_telling_serial, serials_in

_NUMBERED = re.compile(r"(.*?)( (?:\(\d+\)|#\d+))?", re.DOTALL)
"""How a name that was taken is made another's (RFC 6762 s9): rules look at it."""
_CORE = re.compile(r"(\W*)(.*?)(\W*)", re.DOTALL)
_TELLING_WORD = re.compile(r"\b[A-Z][a-z]{4,}\b")
_GLOB = re.compile(r"\[[^\]]*\]|[*?]")
_PLACES = {"site", "place"}


class Gathering:
    """The first walk: it changes nothing, and takes note of what must be known before anything is replaced."""

    def __init__(self) -> None:
        self.found = Gathered()
        self.serials: set[str] = set()
        self.macs: set[str] = set()
        self.kept: set[str] = set()
        self.versions: set[str] = set()

    def name(self, text: str, word: str) -> str:  # noqa: ARG002 - what the other walks need
        return text

    def serial(self, text: str) -> str:
        self.serials.add(text.strip())
        return text

    def mac(self, text: str) -> str:
        self.macs.add(bare(text))
        return text

    def uuid(self, text: str) -> str:
        return text

    def hexadecimal(self, text: str) -> str:
        return text

    def address(self, text: str) -> str:
        self.found.address(text)
        return text

    def network(self, text: str, length: int | str) -> None:
        self.found.network(text, length)

    def model(self, text: str) -> str:
        self.kept |= {part.strip(" ()") for part in _GLOB.split(text)} - {""}
        self.serials |= set(serials_in(text))
        return text

    def version(self, text: str) -> str:
        self.versions.add(text)
        return text

    def instance(self, text: str) -> str:
        return self.text(text)

    def text(self, text: str) -> str:
        self.serials |= set(serials_in(text))
        self.macs |= {bare(found) for what, found in found_in(text) if what == "mac"}
        return text


class Replacing:
    """The other walks. Until `know` is called free text stays as it is: not every name in it is known yet."""

    def __init__(self, key: Key, gathered: Gathering) -> None:
        models = {canonical_serial(each) for each in gathered.kept}
        self._own_serials = {each for each in gathered.serials if canonical_serial(each) not in models}
        kept = {self._without_serial(each) for each in gathered.kept} - {""}
        self._models = kept
        self._versions = gathered.versions
        self._serials = Serials(key, gathered.serials)
        self._hardware = Hardware(key, gathered.macs - {""})
        self._addresses = Addresses(key, gathered.found, self._hardware)
        self._names = Names(key, self._known_serial)
        self._words: dict[str, str] = {}
        self._instances: dict[str, str] = {}
        self._taken: set[str] = set()
        self._cores = _alternatives(kept)
        self._text: Text | None = None

    def _without_serial(self, model: str) -> str:
        """A model without the serial number that some devices put beside it."""
        for serial in self._own_serials:
            if is_telling_serial(serial) and serial != model:
                model = model.replace(serial, "")
        return model.strip(" ()[]-,;")

    def _known_serial(self, text: str) -> str | None:
        return self._serials.replaced(text) if self._serials.knows(text) else None

    def know(self, by_form: dict[str, Callable[[str], str]]) -> None:
        """From here on free text is replaced: every name was met."""
        self._text = Text(
            names=self._names.known | self._instances,
            words=self._words,
            serials={each: self._serials.replaced(each) for each in self._own_serials},
            kept=self._models | self._versions,
            by_form={
                **by_form,
                "uuid": self._hardware.uuid,
                "mac": self._hardware.mac,
                "spaced": lambda text: self.mac(text) if bare(text) in self._hardware.known else text,
                "digits": self._hardware.in_digits,
                "mail": lambda text: self._names.replaced(text.partition("@")[0], "person") + "@mail.invalid",
            },
        )

    def name(self, text: str, word: str) -> str:
        if word in _PLACES and self._text is None:
            for part in _TELLING_WORD.findall(text):
                if part.casefold() not in USUAL_WORDS and not any(part in model for model in self._models):
                    self._words[part] = self._names.replaced(part, "place")
        return self._names.replaced(text, word)

    def serial(self, text: str) -> str:
        return self._serials.replaced(text)

    def mac(self, text: str) -> str:
        return self._hardware.mac(text)

    def uuid(self, text: str) -> str:
        return self._hardware.uuid(text)

    def hexadecimal(self, text: str) -> str:
        return self._hardware.hexadecimal(text)

    def address(self, text: str) -> str:
        return self._addresses.replaced(text)

    def network(self, text: str, length: int | str) -> None:
        """All of them were gathered before."""

    def model(self, text: str) -> str:
        for serial in sorted(self._own_serials, key=lambda each: (-len(each), each)):
            if is_telling_serial(serial):
                text = re.sub(rf"(?<!\w){re.escape(serial)}(?!\w)", lambda found: self.serial(found[0]), text)
        return "".join(self.mac(part) if at % 2 else part for at, part in enumerate(_MAC.split(text)))

    def version(self, text: str) -> str:
        return text

    def instance(self, text: str) -> str:
        if text not in self._instances:
            body, number = _parts(_NUMBERED, text)
            new = "".join(part if at % 2 else self._beside(part) for at, part in enumerate(self._cores.split(body)))
            if new + number in self._taken:
                new += f" {self._names.replaced(text, 'name')}"
            self._taken.add(new + number)
            self._instances[text] = new + number
        return self._instances[text]

    def _beside(self, text: str) -> str:
        """What stands beside the model in a name: mostly the end of a serial number or of a hardware address."""
        before, core, after = _parts(_CORE, text)
        if not core:
            return text
        if bare(core):
            return before + self.mac(core) + after
        return before + (self._tail(core) or self._names.replaced(core, "name")) + after

    def _tail(self, core: str) -> str | None:
        low = re.sub(r"[:.-]", "", core.casefold())
        mac = next((each for each in sorted(self._hardware.known) if len(low) >= 4 and each.endswith(low)), None)
        if mac is None:
            return self._serials.tail(core)
        new = iter(self._hardware.digits(mac)[-len(low) :])
        return "".join(next(new).upper() if char.isupper() else next(new) if char.isalnum() else char for char in core)

    def text(self, text: str) -> str:
        return text if self._text is None else self._text.replaced(text)


_MAC = re.compile(r"(?<![\w:-])((?:[0-9A-Fa-f]{2}[:-]){5}[0-9A-Fa-f]{2})(?![\w:-])")


def _alternatives(kept: set[str]) -> re.Pattern[str]:
    longest = sorted((each for each in kept if len(each) > 1), key=lambda each: (-len(each), each))
    inner = "|".join(map(re.escape, longest)) or "(?!)"
    return re.compile(rf"(?<![0-9A-Za-z])({inner})(?![0-9A-Za-z])", re.IGNORECASE)


def _parts(pattern: re.Pattern[str], text: str) -> list[str]:
    found = pattern.fullmatch(text)
    return [part or "" for part in found.groups()] if found else [text, "", ""]
