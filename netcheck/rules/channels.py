"""Do the device's print channels take data, and does it still speak the languages that the old one spoke?"""

from collections.abc import Iterator

from netcheck.facts.channels import Channels, Interpreters
from netcheck.gates import Gate
from netcheck.ruling import New, Old, Ruling, Wanted, met, rule, unmet, unproven
from netcheck.standard import ServicesRequired
from netcheck.verdict import Weight
from netcheck.words import join

SERVICE_OF_CHANNEL = {
    "chPort9100": "raw",
    "chAppSocket": "raw",
    "chPortTCP": "raw",
    "chBidirPortTCP": "raw",
    "chLPDServer": "lpd",
    "chIPP": "ipp",
}
"""PrtChannelTypeTC (RFC 3805 s5): which channel serves which service. chPort9100 is deprecated there, and common."""


@rule("print channels of the services that the queue needs", unseen_weight=Weight.NOTE, unseen=("services.snmp",))
def accepting(seen: New[Channels], want: Wanted[ServicesRequired]) -> Iterator[Ruling]:
    """Does the device accept print data on the channels of the services that the Standard requires?

    Why: A port can be open while its channel takes no data: the job is then sent and never printed.
    Do: Switch the channel on in the device's print settings.
    Takes: about 5 minutes
    Source: RFC 3805 s6 (prtChannelState: noDataAccepted).
    """
    for service in want.names:
        channels = [row for row in seen.fact.rows if SERVICE_OF_CHANNEL.get(row.type) == service]
        found = join(f"{row.type} {row.state or 'does not tell'}" for row in channels)
        if any(row.state == "printDataAccepted" for row in channels):
            yield met(f"The {service} channel takes data", found, item=service)
        elif channels and seen.fact.complete and all(row.state == "noDataAccepted" for row in channels):
            yield unmet(f"The {service} channel takes no data", found, "printDataAccepted", item=service)
        elif channels:
            title = f"The device does not tell whether its {service} channel takes data"
            yield unproven(title, found, "printDataAccepted", item=service, weight=Weight.NOTE)


_FAMILIES = {"langPDF": "PDF", "langPS": "PostScript", "langPCL": "PCL", "langHPGL": "HP-GL"}
_VERSIONED = {
    **dict.fromkeys(("langPDF13", "langPDF14", "langPDF15", "langPDF16", "langPDF17", "langPDFis"), "langPDF"),
    **dict.fromkeys(("langPS2", "langPS3", "langPSPrinter"), "langPS"),
    **dict.fromkeys(("langPCL3", "langPCL3GUI", "langPCL5e", "langPCL5c"), "langPCL"),
}
"""Registered versions of one language: a device that names a version speaks the language (IANA-PRINTER-MIB)."""
_NO_DOCUMENTS = {"langAutomatic", "langPJL", "langDiagnostic", "other", "unknown", ""}


def languages(fact: Interpreters) -> set[str]:
    """The page description languages, versions folded into their language."""
    return {_VERSIONED.get(row.family, row.family) for row in fact.rows} - _NO_DOCUMENTS


@rule(
    "page description languages",
    until=Gate.SWAP,
    weight=Weight.CARE,
    unseen_weight=Weight.NOTE,
    after=("capability.formats",),
    unseen=("services.snmp", "services.old-reach"),
)
def language(old: Old[Interpreters], new: New[Interpreters]) -> Ruling:
    """Does the new device interpret every page description language that the old one did?

    Why: An application or a driver that sends a language which the device does not know prints pages of characters.
    Do: Find out which language the queue's driver sends. If it is one of the lost ones, call the desk before going on.
    Source: RFC 3805 s6 (prtInterpreterLangFamily).
    """
    lost = sorted(languages(old.fact) - languages(new.fact))
    if lost and not new.fact.complete:
        return unproven(
            "The new device's list of languages was cut short", join(sorted(languages(new.fact))), join(lost)
        )
    if lost:
        names = join(_FAMILIES.get(name, name.removeprefix("lang")) for name in lost)
        return unmet(f"The new device does not interpret {names}", join(sorted(languages(new.fact))), join(lost))
    return met("The new device interprets every language that the old one did")
