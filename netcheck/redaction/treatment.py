"""What becomes of each field. Stage: the table of the redaction; it holds no code that replaces anything.

A field is named by its kind and its place in it (``rows.address``; a list adds nothing to a place). Every string field
of a fact, of the Move and of the Standard stands here, and a test says so: whoever adds one decides what it is. What
does not stand here all the same is free text.
"""

from enum import Enum, auto


class Treatment(Enum):
    """What a string is, and so what becomes of it."""

    KEEP = auto()
    """A word of a standard, a number, a time: it names nobody."""
    TEXT = auto()
    """Anything: addresses, identifiers and known names in it are replaced."""
    KEYWORD = auto()
    """A registered keyword, or what somebody made up in its place: kept in the first case, text in the second."""
    MODEL = auto()
    """Make and model: kept but for a serial number or hardware address in it."""
    VERSION = auto()
    """A version: kept, and never taken for an address."""
    ADDRESS = auto()
    HOST = auto()
    """A host name, or an address in its place."""
    SERVER = auto()
    """host:port."""
    URI = auto()
    PATH = auto()
    MAC = auto()
    SERIAL = auto()
    IDENTIFIER = auto()
    """A UUID, or what a device has in its place."""
    HEXADECIMAL = auto()
    DISTINGUISHED_NAME = auto()
    INTERFACE = auto()
    """A name of an interface: kept where it is one that systems give."""
    INSTANCE = auto()
    """A name that is often the model and something beside it: the model in it is kept."""
    NAME = auto()
    SITE = auto()
    JOB = auto()
    QUEUE = auto()
    PERSON = auto()
    TITLE = auto()
    STEP = auto()
    FILE = auto()
    MOMENT = auto()
    """A time in somebody's own words."""
    WHERE = auto()
    """Where a person read something."""


T = Treatment
WORDS = {
    T.NAME: "name",
    T.SITE: "site",
    T.JOB: "job",
    T.QUEUE: "queue",
    T.PERSON: "person",
    T.TITLE: "title",
    T.STEP: "step",
}
"""What is replaced whole, and how its new name begins."""


def _of(**treatments: Treatment) -> dict[str, Treatment]:
    return {place.replace("__", "."): treatment for place, treatment in treatments.items()}


_SUB_UNIT = {"rows.status.availability": T.KEEP}
_NEIGHBOUR = _of(address=T.ADDRESS, macs=T.MAC, method=T.KEEP, reason=T.TEXT, state=T.KEEP, asks=T.ADDRESS)

FACTS: dict[str, dict[str, Treatment]] = {
    "addresses": _of(rows__address=T.ADDRESS, rows__mask=T.KEEP, rows__origin=T.KEEP, rows__status=T.KEEP),
    "advertisement": _of(
        instance=T.INSTANCE,
        type=T.KEEP,
        hosts=T.HOST,
        addresses=T.ADDRESS,
        subtypes=T.KEEP,
        places__name=T.HOST,
        places__addresses=T.ADDRESS,
        txt__key=T.TEXT,
        txt__value=T.INSTANCE,  # by its key, where that is known
        txt__binary=T.HEXADECIMAL,
    ),
    "alerts": _of(
        rows__severity=T.KEEP, rows__training=T.KEEP, rows__group=T.KEEP, rows__code=T.KEEP, rows__description=T.TEXT
    ),
    "capabilities": _of(sides=T.KEYWORD, resolutions=T.KEYWORD, finishings=T.KEYWORD),
    "certificate": _of(
        tls=T.KEEP,
        subject=T.DISTINGUISHED_NAME,
        issuer=T.DISTINGUISHED_NAME,
        names=T.HOST,
        key_type=T.KEEP,
        fingerprint=T.HEXADECIMAL,
        fault=T.TEXT,
    ),
    "channels": _of(rows__type=T.KEEP, rows__state=T.KEEP, rows__queue=T.QUEUE) | _SUB_UNIT,
    "console": _of(lines=T.TEXT, lights__description=T.TEXT, lights__color=T.KEEP, lights__shows=T.KEEP),
    "covers": _of(rows__description=T.TEXT, rows__status=T.KEEP),
    "device-id": _of(pairs=T.INSTANCE),  # by its key, where that is known
    "firmware": _of(version=T.VERSION, modules__name=T.TEXT, modules__version=T.VERSION),
    "formats": _of(values=T.KEYWORD, default=T.KEYWORD),
    "gateway-neighbour": _NEIGHBOUR,
    "gateways": _of(addresses=T.ADDRESS),
    "host-printer": _of(device_status=T.KEEP, printer_status=T.KEEP, errors=T.KEEP),
    "host-uptime": {},
    "inputs": _of(
        rows__type=T.KEEP,
        rows__name=T.TEXT,
        rows__description=T.TEXT,
        rows__media_name=T.KEYWORD,
        rows__media_type=T.KEYWORD,
        rows__unit=T.KEEP,
    )
    | _SUB_UNIT,
    "interfaces": _of(
        rows__description=T.TEXT, rows__type=T.KEEP, rows__mac=T.MAC, rows__oper_status=T.KEEP, rows__duplex=T.KEEP
    ),
    "interpreters": _of(rows__family=T.KEEP, rows__level=T.TEXT, rows__version=T.VERSION, rows__description=T.TEXT),
    "ipp-service": _of(
        path=T.PATH,
        versions=T.KEEP,
        operations=T.KEEP,
        uris__uri=T.URI,
        uris__security=T.KEEP,
        uris__authentication=T.KEEP,
    ),
    "job-check": _of(print=T.TEXT, status=T.KEEP, unsupported=T.TEXT, format=T.KEYWORD, source=T.KEYWORD),
    "jobs": _of(rows__state=T.KEEP, rows__name=T.TITLE),
    "mac": _of(value=T.MAC),
    "markers": _of(rows__technology=T.KEEP, rows__unit=T.KEEP),
    "media-paths": _of(rows__type=T.KEEP, rows__description=T.TEXT) | _SUB_UNIT,
    "media-ready": _of(rows__name=T.KEYWORD, rows__type=T.KEYWORD, rows__source=T.KEYWORD),
    "media-supported": _of(names=T.KEYWORD, types=T.KEYWORD, sources=T.KEYWORD),
    "meter": _of(unit=T.TEXT),
    "model": _of(value=T.MODEL),
    "name-lookup": _of(name=T.HOST, addresses=T.ADDRESS),
    "neighbour": _NEIGHBOUR,
    "outputs": _of(rows__type=T.KEEP, rows__name=T.TEXT, rows__unit=T.KEEP) | _SUB_UNIT,
    "own-gateways": _of(rows=T.INTERFACE),  # each a pair of an address and an interface
    "own-interfaces": _of(rows__name=T.INTERFACE, rows__address=T.ADDRESS, rows__mac=T.MAC),
    "planned-neighbour": _NEIGHBOUR,
    "printer-clock": _of(now=T.KEEP, config_changed=T.KEEP),
    "printer-names": _of(name=T.INSTANCE, info=T.INSTANCE, location=T.SITE),
    "printer-state": _of(state=T.KEEP, reasons=T.KEYWORD, message=T.TEXT),
    "queue-defaults": _of(media=T.KEYWORD, options=T.KEYWORD),  # pairs; by its key, where that tells of a person
    "queue-driver": _of(name=T.MODEL, version=T.VERSION),
    "queue-names": _of(names=T.QUEUE),
    "queue-target": _of(name=T.QUEUE, uri=T.URI),
    "reverse-name": _of(address=T.ADDRESS, names=T.HOST, by=T.KEEP, leads_to=T.ADDRESS),
    "route": _of(address=T.ADDRESS, interface=T.INTERFACE, source=T.ADDRESS),
    "serial": _of(value=T.SERIAL),
    "service": _of(service=T.KEEP, state=T.KEEP, error=T.KEEP),
    "snmp-agent": _of(version=T.KEEP),
    "supplies": _of(
        rows__family=T.KEEP, rows__type=T.KEEP, rows__description=T.TEXT, rows__unit=T.KEEP, rows__colorant=T.TEXT
    ),
    "system": _of(description=T.TEXT, object_id=T.KEEP, name=T.HOST, location=T.SITE),
    "uuid": _of(value=T.IDENTIFIER),
}
DROPPED = frozenset({"objects"})
"""Kinds of fact that are no evidence, and are left out: what support read beside it (``read --raw``)."""

_DEVICE = _of(host=T.HOST, path=T.PATH, final=T.ADDRESS, serial=T.SERIAL, mac=T.MAC, asset=T.SERIAL, jack=T.SERIAL)
MOVE: dict[str, Treatment] = {
    **_of(job=T.JOB, site=T.SITE, address=T.KEEP, standard=T.FILE, snmp_profile=T.NAME, when=T.MOMENT),
    **{f"{device}.{place}": each for device in ("old", "new", "device") for place, each in _DEVICE.items()},
    **_of(queue__name=T.QUEUE, queue__server=T.SERVER),
    **_of(seen__role=T.KEEP, seen__what=T.KEEP, seen__value=T.TEXT, seen__where=T.WHERE, seen__by=T.PERSON),
}
"""Of ``seen.value``, ``seen.what`` says what it is."""
SEEN: dict[str, Treatment] = {
    "model": T.MODEL,
    "serial": T.SERIAL,
    "firmware": T.VERSION,
    "address": T.TEXT,
    "mac": T.MAC,
    "meter": T.TEXT,
}
STANDARD: dict[str, Treatment] = {
    **_of(name=T.NAME, model__pattern=T.MODEL, firmware__version=T.VERSION, firmware__order=T.KEEP),
    **_of(services_required__names=T.KEEP, services_closed__names=T.KEEP, origin__origins=T.KEEP, word__kinds=T.KEEP),
    **_of(subnet__network=T.ADDRESS, driver__pattern=T.MODEL),
    **_of(driver_version__operator=T.KEEP, driver_version__version=T.VERSION),
    **_of(prints__prints__size=T.KEEP, prints__prints__type=T.KEYWORD, prints__prints__feed=T.KEEP),
    **_of(worksheet__step=T.STEP, worksheet__gate=T.KEEP, worksheet__caution=T.STEP, worksheet__evidence=T.KEEP),
}
CASE: dict[str, Treatment] = {
    **_of(role=T.KEEP, probe=T.KEEP, outcome=T.KEEP, source=T.TEXT, target=T.TEXT, reason=T.TEXT),
    "from": T.ADDRESS,
}
"""Of an observation and of an attempt."""

DEVICE_ID: dict[str, Treatment] = {
    **dict.fromkeys(("MFG", "MANUFACTURER", "MDL", "MODEL", "DES", "DESCRIPTION", "DRV"), T.MODEL),
    **dict.fromkeys(("CMD", "COMMAND SET", "CLS", "CLASS", "CID", "COMPATIBLEID"), T.KEEP),
    **dict.fromkeys(("SN", "SERN", "SER", "SERIALNUMBER", "SERIAL NUMBER"), T.SERIAL),
    "UUID": T.IDENTIFIER,
}
"""Keys of an IEEE 1284 device ID (PWG 5107.2), in capitals."""
TXT: dict[str, Treatment] = {
    **dict.fromkeys(("ty", "product", "usb_mfg", "usb_mdl", "usb_des"), T.MODEL),
    **dict.fromkeys(("txtvers", "qtotal", "priority", "pdl", "usb_cmd", "usb_cls", "urf", "kind", "air"), T.KEEP),
    **dict.fromkeys(("transparent", "binary", "tbcp", "color", "duplex", "bind", "collate", "copies"), T.KEEP),
    **dict.fromkeys(("punch", "sort", "staple", "papercustom", "papermax", "scan", "fax", "tls"), T.KEEP),
    **dict.fromkeys(("printer-state", "printer-type", "rfo", "mopria-certified"), T.KEEP),
    **dict.fromkeys(("rp", "rs"), T.PATH),
    **dict.fromkeys(("sn", "serial", "usb_sn", "usb_sern"), T.SERIAL),
    "note": T.SITE,
    "uuid": T.IDENTIFIER,
    "adminurl": T.URI,
}
"""Keys of a printer's TXT record (RFC 6763 s6; printing over DNS-SD, from memory), in small letters."""


def treatment_of(kind: str, place: str) -> Treatment:
    """What a field of a fact is."""
    return FACTS.get(kind, {}).get(place, T.TEXT)
