"""Short numbers of findings, to be said over the phone. Stage: beside the rules; the read-out and `explain` use it.

A number is for ever: what a technician reads out today must mean the same at a desk with next year's netcheck. So a new
rule is appended to its hundred, and a number whose rule is gone stays in the list, its id with it.
"""

_HUNDREDS = {
    1: """link.up link.self-assigned link.here link.way link.router link.route link.name-back link.neighbour link.owner
    link.old-owner link.mac-agrees link.remembered path.one-way path.duplex path.errors path.woke path.size
    link.intended""",
    2: """address.valid address.subnet address.mask address.masks-agree address.gateway address.gateway-answers
    address.origin address.held address.final planned.usable planned.taken planned.holder planned.gone
    planned.reservation planned.name planned.caches""",
    3: """services.name services.reach services.required services.closed services.snmp services.snmp-required
    services.ipp services.ipp-required services.old-name services.old-reach channels.accepting channels.language""",
    4: """announced.name-taken announced.leads-elsewhere announced.seen-not-reached announced.other-address
    announced.not-heard announced.several-alike announced.agrees announced.one-uuid announced.old-announced
    security.dates security.key security.signer security.name security.queue-trust security.queue-pin
    security.queue-changed""",
    5: """identity.model identity.is-old identity.serial identity.mac identity.firmware identity.sources identity.word
    identity.two-devices identity.old-known identity.old-serial scope.named agreement.state agreement.reasons
    agreement.media""",
    6: """condition.errors condition.alerts condition.covers condition.state condition.reasons
    condition.contradiction""",
    7: """media.loaded media.output media.supported supplies.empty supplies.level capability.formats""",
    8: """queue.exists queue.points-to-old queue.points-to-new queue.enabled queue.drained queue.driver
    queue.driver-version jobs.accepted""",
}

NUMBERS: dict[str, int] = {
    identity: hundred * 100 + place
    for hundred, themes in _HUNDREDS.items()
    for place, identity in enumerate(themes.split(), 1)
}
"""Rule id to number, such as ``services.required`` to 303."""

IDS: dict[int, str] = {number: identity for identity, number in NUMBERS.items()}
