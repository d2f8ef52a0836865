"""IEEE 1284 device ID, taken apart: `KEY:value;KEY:value;`, as IPP and SNMP carry it (PWG 5107.2, PWG 5107.1)."""

from typing import Final

_BLANKS: Final = " \t\v\r\n\f"  # ignored around keys and values (IEEE 1284, by a public description)
_MAX_PAIRS: Final = 256


def parse_device_id(text: str) -> tuple[tuple[str, str], ...]:
    """Its pairs, in order. A repeated key counts once, the first; only the first colon of a pair splits it.

    Over IPP and SNMP the two length octets of the cable are left out; where a device sends them all the same, in
    whichever order, one is a control character (its ID is shorter than 8192 octets), and both are skipped.
    """
    if any(each < " " and each not in _BLANKS for each in text[:2]):
        text = text[2:]
    pairs: dict[str, str] = {}
    for part in text.split(";", _MAX_PAIRS)[:_MAX_PAIRS]:
        key, colon, value = part.partition(":")
        if colon and (name := key.strip(_BLANKS)):
            pairs.setdefault(name, value.strip(_BLANKS))
    return tuple(pairs.items())
