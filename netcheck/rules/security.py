"""Can the queue, and whoever else connects by TLS, live with the certificate that the new device shows?

Only asked where a device showed one: TLS is no duty, and a device without it is none the worse. Most devices sign their
certificates themselves and nobody minds, so what is odd about one is a note. It is more than that where the queue
prints by TLS: a spooler remembers the certificate that it met first, and stops the queue when it meets another.

A certificate says itself how long it holds, so that these rules take what was shown, however long ago.
"""

import ipaddress
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, timedelta

from netcheck.facts.link import Certificate
from netcheck.facts.network import Addresses, NameLookup
from netcheck.facts.queue import QueueTarget
from netcheck.gates import Gate
from netcheck.move import FinalAddress, NewPlace, OldPlace
from netcheck.place import parse_place
from netcheck.rules.queue import leads_to
from netcheck.ruling import (
    Known,
    New,
    NewClaims,
    NewHistory,
    Now,
    Old,
    Queue,
    Ruling,
    Sighting,
    Wanted,
    met,
    rule,
    unmet,
    unproven,
)
from netcheck.verdict import Weight
from netcheck.words import count, join

SOON_DAYS = 30
"""Time enough to order a new one (common practice, no source)."""
WEAKEST_BITS = {"rsaEncryption": 2048, "id-RSASSA-PSS": 2048, "id-ecPublicKey": 224}
"""NIST SP 800-131A and SP 800-57 part 1: 112 bits of security (from memory)."""
MS_A_DAY = 86_400_000
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_TLS = {"ipps", "https"}
Shown = Sighting[Certificate]


def day(ms: int) -> str:
    """A moment as a date; a certificate may name one that no calendar has."""
    try:
        return f"{_EPOCH + timedelta(milliseconds=ms):%Y-%m-%d}"
    except OverflowError:
        return "a day beyond the calendar"


def date_fault(certificate: Certificate, now_ms: int) -> str:
    """Why a certificate does not hold now; "" when it does. Both ends of its time belong to it (RFC 5280 s4.1.2.5)."""
    if now_ms < certificate.not_before_ms:
        return f"is not valid before {day(certificate.not_before_ms)}"
    if now_ms > certificate.not_after_ms:
        return f"expired on {day(certificate.not_after_ms)}"
    return ""


def made_out_to(names: Iterable[str], host: str) -> bool:
    """Is a certificate with these names one for this host? Names without regard to case, a wildcard stands for one
    whole label at the left; addresses as numbers, and never by a wildcard (RFC 9525 s6)."""
    if (address := _address(host)) is not None:
        return address in map(_address, names)
    wanted = host.casefold().removesuffix(".")
    above = wanted.partition(".")[2]
    certified = {name.casefold().removesuffix(".") for name in names}
    return wanted in certified or (above != "" and f"*.{above}" in certified)


def _address(text: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    try:
        return ipaddress.ip_address(text.partition("%")[0])
    except ValueError:
        return None


def _item(sighting: Shown, what: str = "") -> str:
    return f"port {sighting.fact.port} {what}".rstrip()


@rule("the dates of the new device's certificates", weight=Weight.NOTE, after=("security.queue-trust",))
def dates(shown: NewClaims[Certificate], now: Now) -> Iterator[Ruling]:
    """Do the new device's certificates hold today, and for some time to come?

    Why: Browsers and strict clients refuse a certificate that does not hold; some spoolers do.
    Do: Compare the date on the device's panel and on this computer with the calendar. If both are right, have the
    device make a new certificate, on its web page or panel, or install the one that the network's owner gives you.
    Takes: about 10 minutes
    Source: RFC 5280 s4.1.2.5; the 30 days are common practice, no source.
    """
    for sighting in shown.every:
        it, item = sighting.fact, _item(sighting)
        left = (it.not_after_ms - now.at_ms) // MS_A_DAY
        if fault := date_fault(it, now.at_ms):
            because = (f"security.queue-trust/{_item(sighting, 'dates')}",)
            title = f"A certificate {fault}"
            yield unmet(title, day(now.at_ms), _span(it), item=item, because=because, on=(sighting,))
        elif left < SOON_DAYS:
            title, found = f"A certificate expires in {count(left, 'day')}", day(it.not_after_ms)
            yield unmet(title, found, f"{SOON_DAYS} days or more", item=item, because=(), on=(sighting,))
        else:
            yield met(f"The certificate holds until {day(it.not_after_ms)}", item=item, on=(sighting,))


def _span(certificate: Certificate) -> str:
    return f"{day(certificate.not_before_ms)} to {day(certificate.not_after_ms)}"


@rule("the keys of the new device's certificates", weight=Weight.NOTE)
def key(shown: NewClaims[Certificate]) -> Iterator[Ruling]:
    """Is the key of each certificate long enough?

    Why: A short key can be computed by others, who can then pass for the device; newer systems refuse to connect.
    Do: Have the device make a new certificate with a longer key, on its web page or panel.
    Takes: about 10 minutes
    Source: NIST SP 800-131A, SP 800-57 part 1 (from memory): RSA from 2048 bits, elliptic curves from 224.
    """
    for sighting in shown.every:
        it, item = sighting.fact, _item(sighting)
        least = WEAKEST_BITS.get(it.key_type, 0)
        about = join([it.key_type, f"{it.key_bits} bits" if it.key_bits else ""])
        if 0 < it.key_bits < least:
            title = f"A certificate's key has only {it.key_bits} bits"
            yield unmet(title, about, f"{least} bits or more", item=item, on=(sighting,))
        elif least and not it.key_bits:
            yield unproven("The length of a certificate's key is not known", about, item=item, on=(sighting,))
        else:
            yield met(f"The certificate's key is {about}", item=item, on=(sighting,))


@rule("who signed the new device's certificates", weight=Weight.NOTE, after=("security.dates", "security.key"))
def signer(shown: NewClaims[Certificate]) -> Iterator[Ruling]:
    """Is each certificate signed by the device itself, or by somebody whom this computer trusts?

    Why: Where the site has issuers of its own, a workstation that does not know them refuses the device.
    Do: Ask the network's owner whether the issuer is the site's own, and whether the workstation ought to know it.
    Source: RFC 8010 s8.1.2 (printers mostly sign their own); RFC 5280 s6.
    """
    for sighting in shown.every:
        it, item = sighting.fact, _item(sighting)
        if it.verified:
            yield met("This computer trusts the certificate", it.issuer, item=item, on=(sighting,))
        elif it.self_signed:
            yield met("The device signed its certificate itself, as most do", item=item, on=(sighting,))
        else:
            title, found = "This computer does not trust a certificate's issuer", join([it.issuer, it.fault], ": ")
            yield unmet(title, found, "an issuer that it knows", item=item, on=(sighting,))


@rule("the name in the new device's certificate", weight=Weight.CARE, after=("security.queue-trust",))
def name(shown: NewClaims[Certificate], place: Wanted[NewPlace]) -> Iterator[Ruling]:
    """Where the Move asks for TLS: is the certificate made out to the name or address that the Move gives?

    Why: A client that compares names takes the device for somebody else.
    Do: Give the device in the Move by a name that is in the certificate; or have the device make a new certificate,
    once it has its final name and address.
    Takes: about 10 minutes
    Source: RFC 9525 s6; RFC 8010 s8.1.
    """
    for sighting in shown.every:
        if place.device.ports.ipps == sighting.fact.port:
            yield _named(sighting, place.device.host, because=(f"security.queue-trust/{_item(sighting, 'name')}",))


def _named(sighting: Shown, host: str, because: tuple[str, ...] = ()) -> Ruling:
    it, item = sighting.fact, _item(sighting, "name")
    if made_out_to(it.names, host):
        return met(f"The certificate is made out to {host}", item=item, on=(sighting,))
    names = join(it.names[:5]) or "no name"
    if not it.names_complete:
        title = f"{host} is not among the first {len(it.names)} names of the certificate"
        return unproven(title, names, host, item=item, because=because, on=(sighting,))
    title = f"The certificate is not made out to {host}"
    return unmet(title, names, host, item=item, because=because, on=(sighting,))


def _at(uri: str) -> tuple[str, int] | None:
    """Host and port of a device URI by which a queue prints over TLS; None for any other."""
    try:
        place = parse_place(uri)
    except ValueError:
        return None
    named = [port for service, port in place.ports.items() if service in _TLS]  # a host alone is no device URI
    return (place.host, named[0]) if named else None


def _met_by_queue(
    uri: str, shown: Iterable[Shown], new: Known[NameLookup | Addresses], place: NewPlace, other: OldPlace
) -> list[Shown]:
    """The new device's certificates that the queue meets, now or when the device has its final address: none where the
    queue does not print by TLS, or prints to another device."""
    at = _at(uri)
    if at is None or not leads_to(uri, place.device, new, other.device):
        return []
    return [sighting for sighting in shown if sighting.fact.port == at[1]]


@rule("whether the queue can trust the new device's certificate", weight=Weight.CARE)
def queue_trust(
    shown: NewClaims[Certificate],
    queue: Queue[QueueTarget],
    new: New[NameLookup | Addresses],
    place: Wanted[NewPlace],
    other: Wanted[OldPlace],
    now: Now,
) -> Iterator[Ruling]:
    """Where the queue prints by TLS: does the certificate hold that it meets at the new device, and is it made out to
    the name that the queue uses?

    Why: A spooler may refuse a certificate that does not hold. One that has met another certificate under this name
    takes a new one only when it is made out to the name; otherwise it stops the queue.
    Do: Have the device make a new certificate, once it has its final name and address, and print a test. Where its time
    is wrong, first compare the date on the device's panel and on this computer with the calendar.
    Takes: about 10 minutes
    Source: RFC 5280 s4.1.2.5; RFC 9525 s6; that the queue stops was observed with CUPS 2.4.2.
    """
    for sighting in _met_by_queue(queue.fact.uri, shown.every, new, place, other):
        it, item = sighting.fact, _item(sighting, "dates")
        if fault := date_fault(it, now.at_ms):
            title = f"The certificate that the queue meets {fault}"
            yield unmet(title, day(now.at_ms), _span(it), item=item, on=(sighting,))
        else:
            yield met(f"The certificate that the queue meets holds until {day(it.not_after_ms)}", item=item)
        yield _named(sighting, parse_place(queue.fact.uri).host)


@rule("whether the queue knows the new device's certificate", until=Gate.SWAP, weight=Weight.CARE)
def queue_pin(
    queue: Queue[QueueTarget],
    old: Old[Certificate],
    new: NewClaims[Certificate],
    address: Wanted[FinalAddress],
    place: Wanted[NewPlace],
) -> Iterator[Ruling]:
    """Where the queue prints by TLS and the new device takes over the address: will the queue meet the certificate that
    it has met before?

    Why: A spooler remembers the certificate that it met first at an address. When it meets another one there, it takes
    the new device for an impostor and stops the queue.
    Do: When the queue leads to the new device, have the workstation forget the certificate that it remembers for that
    name or address (CUPS: NAME.crt in its folder ssl; this needs an administrator), and print a test.
    Takes: about 5 minutes
    Source: RFC 8010 s8.1.2 (trust on first use); that the queue stops was observed with CUPS 2.4.2.
    """
    at = _at(queue.fact.uri)
    if at is None or address.policy != "keep":
        return
    port = place.device.ports.ipps or place.device.port("ipp")
    known = [each for each in old.every if each.fact.port == at[1]]
    coming = [each for each in new.every if each.fact.port == port]
    for sighting in coming if known else ():
        if sighting.fact.fingerprint != known[0].fact.fingerprint:
            title = "The queue prints by TLS, and will meet a certificate that it does not know"
            found, wanted = _short(sighting), f"{_short(known[0])}, as now"
            yield unmet(title, found, wanted, item=_item(sighting), on=(known[0], sighting))


def _short(sighting: Shown) -> str:
    """A fingerprint by its first octets, as a person compares it."""
    return f"SHA-256 {sighting.fact.fingerprint[:16]}..."


@rule("whether the certificate that the queue meets stayed the same", gate=Gate.LEAVE, weight=Weight.CARE)
def queue_changed(
    shown: NewHistory[Certificate],
    queue: Queue[QueueTarget],
    new: New[NameLookup | Addresses],
    place: Wanted[NewPlace],
    other: Wanted[OldPlace],
) -> Iterator[Ruling]:
    """Where the queue prints by TLS: does the new device still show the certificate that it showed first?

    Why: A spooler remembers the certificate that it met first at an address, and stops the queue when it meets another
    one there. Devices make a new one when they are reset, renamed, or given new firmware.
    Do: Have the workstation forget the certificate that it remembers for that name or address (CUPS: NAME.crt in its
    folder ssl; this needs an administrator), and print a test. If nobody reset or renamed the device, find out who
    answers at its address.
    Takes: about 5 minutes
    Source: RFC 8010 s8.1.2 (trust on first use); that the queue stops was observed with CUPS 2.4.2.
    """
    seen = _met_by_queue(queue.fact.uri, shown.every, new, place, other)
    if not seen:
        return
    last = seen[-1]
    before = [sighting for sighting in seen if sighting.fact.fingerprint != last.fact.fingerprint]
    if before:
        title = f"The certificate was changed after {day(before[-1].observation.at_ms)}"
        wanted = f"{_short(before[-1])}, as then"
        yield unmet(title, _short(last), wanted, item=_item(last), on=(before[-1], last))
    else:
        yield met("The certificate stayed the same", item=_item(last), on=(last,))
