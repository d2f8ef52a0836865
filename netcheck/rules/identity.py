"""Is it the right box, with the right firmware, and not the one that it replaces?"""

from collections.abc import Iterable, Iterator
from fnmatch import fnmatchcase
from typing import assert_never

from netcheck.evidence import PERSON, same_text
from netcheck.facts.identity import DeviceId, Firmware, Model, Serial, System, Uuid
from netcheck.facts.network import HardwareAddress, Interfaces, NameLookup
from netcheck.gates import Gate
from netcheck.move import KnownOldSerial, OrderedMac, OrderedSerial
from netcheck.ruling import (
    Beside,
    New,
    NewBeside,
    NewClaims,
    Old,
    OldBeside,
    Ruling,
    Sighting,
    Wanted,
    met,
    rule,
    unmet,
    unproven,
)
from netcheck.standard import FirmwareDemand, ModelDemand
from netcheck.verdict import Weight
from netcheck.versions import compare
from netcheck.words import join


@rule(
    "the model of the new device",
    gate=Gate.FILL,
    voids=True,
    after=("identity.is-old",),
    unseen=("services.ipp", "services.snmp", "services.reach"),
)
def model(named: New[Model | DeviceId | System], want: Wanted[ModelDemand]) -> Ruling:
    """Is the new device the model that the Standard names?

    Why: A filled machine cannot go back in its box; the wrong model must be found before it is filled.
    Do: Compare the plate on the device with the work order. If it is another model, stop: do not fill it, and call the
    desk.
    Caution: Lifting a large-format device takes two people or more; follow local rules and the device's own
    instructions.
    Source: RFC 8011 s5.4.9 (printer-make-and-model); RFC 2790 (hrDeviceDescr).
    """
    names = list(dict.fromkeys(name for each in named.facts() for name in _names(each) if name))
    fitting = [name for name in names if matches_model(name, want.pattern)]
    others = [name for each in named.facts() if not isinstance(each, System) for name in _names(each) if name]
    strange = [name for name in others if fitting and not _related(name, fitting)]
    if strange:
        return unproven("Sources disagree on which model it is", join([fitting[0], strange[0]], " and "), want.pattern)
    if fitting:
        return met(f"The model is {fitting[0]}")
    if not any(isinstance(each, Model | DeviceId) for each in named.facts()):
        return unproven(
            "The device does not say which model it is", join(names, "; "), f"a model that matches {want.pattern}"
        )
    return unmet(f"The new device is a {names[0]}", join(names, "; "), f"a model that matches {want.pattern}")


def _names(fact: Model | DeviceId | System) -> list[str]:
    """What a fact calls the device. In a device ID, maker and model stand apart (IEEE 1284: MFG, MDL, DES)."""
    match fact:
        case Model():
            return [fact.value]
        case DeviceId():
            model = fact.get("MDL", "MODEL")
            return [fact.get("DES", "DESCRIPTION"), join([fact.get("MFG", "MANUFACTURER"), model], " ")]
        case System():
            return [fact.description]
        case _:
            assert_never(fact)


def _related(name: str, fitting: list[str]) -> bool:
    """Sources word one model differently; two that share not one word speak of two (common practice, no source)."""
    return any(set(name.casefold().split()) & set(other.casefold().split()) for other in fitting)


def matches_model(name: str, pattern: str) -> bool:
    """A glob over the whole name, or over what follows a word of it: sources put the maker before the model."""
    words = name.casefold().split()
    return any(fnmatchcase(" ".join(words[start:]), pattern.casefold()) for start in range(len(words)))


@rule("whether the old device answers in the new one's place", gate=Gate.FILL, voids=True)
def is_old(
    seen: NewClaims[Serial],
    old: Wanted[KnownOldSerial],
    here: NewBeside[NameLookup],
    there: OldBeside[NameLookup],
) -> Iterator[Ruling]:
    """Is it really the new device that answers at the new device's address, and not the old one?

    Why: While the old device holds the address, everything seen there is about the old device.
    Do: Unplug the old device's network cable, give the new device its address, and run this again.
    Source: RFC 3805 s6 (prtGeneralSerialNumber) against the work order.
    """
    for each in [each for each in seen.every if same_text(each.fact.value, old.value)][:1]:
        title, found = "The old printer answers at the new one's address", f"serial number {each.fact.value}"
        both = sorted(_addresses(here) & _addresses(there))
        names = list(dict.fromkeys(sighting.fact.name for sighting in (*here.every, *there.every)))
        if both and len(names) > 1:
            title = f"{names[0]} leads to the old printer, at {both[0]}"
            do = (
                "Correct the new device's host in the Move. Ask whoever runs the site's name server to correct the"
                " name, if it is meant to be the new device's."
            )
            yield unmet(title, found, "the new device's", do, on=(each,))
        elif both:
            title, do = (
                f"The Move gives old and new one address, {both[0]}",
                "Correct the new device's host in the Move.",
            )
            yield unmet(title, found, "the new device's", do, on=(each,))
        else:
            yield unmet(title, found, "the new device's", on=(each,))


def _addresses(seen: Beside[NameLookup]) -> set[str]:
    return {address for each in seen.every for address in each.fact.addresses}


@rule(
    "the serial number of the new device",
    gate=Gate.FILL,
    after=("identity.sources",),
    unseen=("services.reach", "services.snmp"),
)
def serial(seen: New[Serial], want: Wanted[OrderedSerial]) -> Ruling:
    """Is the new device the one that the work order names?

    Why: Of two boxes of one model, only one is this site's: its warranty and its asset record follow the serial number.
    Do: Compare the plate on the device with the work order. If they differ, this is another site's box: do not fill it,
    and call the desk.
    Source: RFC 3805 s6 (prtGeneralSerialNumber); PWG 5107.2 (SN of the device ID).
    """
    if same_text(seen.fact.value, want.value):
        return met(f"The serial number is {seen.fact.value}")
    return unmet(f"The serial number is {seen.fact.value}", seen.fact.value, f"{want.value} (work order)")


@rule(
    "the MAC address of the new device", weight=Weight.CARE, unseen=("services.ipp", "services.snmp", "services.reach")
)
def mac(seen: New[Interfaces | HardwareAddress], want: Wanted[OrderedMac]) -> Ruling:
    """Has the new device the MAC address that the work order names?

    Why: The address reservation and the switch's allow-list are made for that MAC address.
    Do: Read the MAC address from the plate, and tell whoever keeps the reservation if it differs from the work order.
    Source: RFC 2863 (ifPhysAddress); RFC 2131 (a reservation is keyed by client identifier or hardware address).
    """
    found = [
        address
        for each in seen.facts()
        for address in ([each.value] if isinstance(each, HardwareAddress) else [row.mac for row in each.rows])
        if address
    ]
    if want.value in found:
        return met(f"The MAC address is {want.value}")
    if not found:
        return unproven("The device tells no MAC address", wanted=want.value)
    return unmet(f"The MAC address is {found[0]}", join(found), f"{want.value} (work order)")


@rule(
    "the firmware of the new device",
    after=("identity.sources",),
    unseen=("services.ipp", "services.snmp", "services.reach"),
)
def firmware(seen: New[Firmware], want: Wanted[FirmwareDemand]) -> Ruling:
    """Is the firmware the version that the Standard requires: not older, and not newer?

    Why: The driver and the application were tested with this version. Older lacks what they need; newer may refuse the
    supplies or change the defaults that they rely on.
    Do: Put the required firmware on the device, by its own instructions; afterwards check its settings again, since
    they may have been reset.
    Caution: Mains power and network must stay on until the device says that it has finished; a broken-off update can
    leave it unusable.
    Takes: about 20 minutes
    Source: PWG 5110.1 (printer-firmware-string-version). Order of versions: common practice, no source.
    """
    found = seen.fact.version
    order = compare(found, want.version, want.order)
    if order is None:
        return unproven(f"Firmware {found} cannot be compared with {want.version}", found, want.version)
    if order == 0:
        return met(f"Firmware {found}")
    if order < 0:
        do = f"Update the firmware to {want.version}, by the device's own instructions."
        return unmet(f"Firmware {found} is older than {want.version}", found, want.version, do)
    do = f"Roll the firmware back to {want.version}, by the device's own instructions. Do not update it."
    return unmet(f"Firmware {found} is newer than {want.version}", found, want.version, do)


@rule("whether all sources name the same serial number", gate=Gate.FILL, after=("link.owner",))
def sources(seen: NewClaims[Serial]) -> Iterable[Ruling]:
    """Do all sources on the device give the same serial number?

    Why: If they differ, one answer comes from another device: a copied configuration, two devices on one address, or a
    print server in between.
    Do: Read the serial number on the plate. If two devices answer at this address, unplug the network cable of one.
    Source: RFC 3805 s6 (prtGeneralSerialNumber); PWG 5107.2 (SN).
    """
    measured = [each for each in seen.every if each.observation.probe != PERSON]
    if len(measured) > 1:
        yield _agreement("serial number", measured)


def _agreement(what: str, measured: list[Sighting[Serial]]) -> Ruling:
    values = [each.fact.value for each in measured]
    if all(same_text(values[0], value) for value in values):
        return met(f"All sources give {what} {values[0]}")
    return unmet(f"Sources disagree on the {what}", join(values, " and "), "one value")


@rule("whether measurements bear out what a person read", weight=Weight.CARE)
def word(serials: NewClaims[Serial | Firmware | Model]) -> Iterator[Ruling]:
    """Does what the device says agree with what a person read on it?

    Why: A misread plate, or the plate of the box beside it, is the commonest slip of all (common practice, no source).
    Do: Read it again on the device, and correct the Move.
    Source: common practice, no source.
    """
    for spoken in [each for each in serials.every if each.observation.probe == PERSON]:
        kind = type(spoken.fact)
        measured = [each for each in serials.every if type(each.fact) is kind and each.observation.probe != PERSON]
        told, values = _value(spoken.fact), [_value(each.fact) for each in measured]
        if not values:
            continue
        if any(same_text(told, value) or (kind is Model and told.casefold() in value.casefold()) for value in values):
            yield met(
                f"The device confirms the {kind.kind} that was read", told, item=kind.kind, on=(spoken, *measured)
            )
        else:
            title = f"The {kind.kind} that was read on the device is not what it says itself"
            yield unmet(title, values[0], f"{told} (as read)", item=kind.kind, on=(spoken, *measured))


def _value(fact: Serial | Firmware | Model) -> str:
    return fact.version if isinstance(fact, Firmware) else fact.value


@rule(
    "whether old and new are two devices",
    unseen_weight=Weight.CARE,
    gate=Gate.FILL,
    until=Gate.SWAP,
    after=("identity.is-old",),
    unseen=("services.reach", "services.old-reach", "services.ipp", "services.snmp"),
)
def two_devices(old: Old[Serial | Uuid], new: New[Serial | Uuid]) -> Ruling:
    """Are the old and the new device two different boxes?

    Why: One device that answers under both addresses makes every comparison meaningless, and the old one may be
    unplugged in the belief that the new one prints.
    Do: Correct the hosts in the Move: one of them leads to the other device.
    Source: RFC 3805 s6 (prtGeneralSerialNumber); PWG 5100.13 (printer-uuid).
    """
    shared = {(each.kind, each.value.casefold()) for each in old.facts()} & {
        (each.kind, each.value.casefold()) for each in new.facts()
    }
    if shared:
        kind, value = min(shared)
        return unmet("Old and new are the same device", f"{kind} {value} on both", "two devices")
    if {each.kind for each in old.facts()} & {each.kind for each in new.facts()}:
        return met("Old and new are two devices", f"{old.fact.value} and {new.fact.value}")
    return unproven("Old and new tell nothing that could be compared", f"{old.fact.kind} and {new.fact.kind}")


@rule(
    "which device the old one is", gate=Gate.SURVEY, until=Gate.SWAP, weight=Weight.CARE, unseen=("services.old-reach",)
)
def old_known(seen: Old[Model]) -> Ruling:
    """Is the old device known well enough to go back to?

    Why: If the new device cannot stay, the queue goes back to the old one, with its driver and its settings.
    Do: Read model and serial number from the old device's plate, and note them with [[seen]] in the Move.
    Unseen: Read model and serial number from the old device's plate, and note them with [[seen]] in the Move.
    Source: common practice, no source.
    """
    return met(f"The old device is a {seen.fact.value}")


@rule("the serial number of the old device", gate=Gate.SURVEY, until=Gate.SWAP, unseen=("services.old-reach",))
def old_serial(seen: Old[Serial], want: Wanted[KnownOldSerial]) -> Ruling:
    """Is the old device the one that the work order names?

    Why: Unplugging the wrong printer takes down people whose printer was to stay.
    Do: Compare the plate of the printer that you are about to unplug with the work order.
    Source: RFC 3805 s6 (prtGeneralSerialNumber).
    """
    if same_text(seen.fact.value, want.value):
        return met(f"The old device's serial number is {seen.fact.value}")
    return unmet(f"The old device's serial number is {seen.fact.value}", seen.fact.value, f"{want.value} (work order)")
