"""CPU time of one SNMPv2c exchange in our codec and in pysnmp's: encode a GET of 20 objects, decode its answer.

Both sides do the same work on the same octets in one run, in turns, so that the ratio holds on a noisy machine:
`python tests/bench/snmp_codec.py`. Ends with 1 when the ratio is below the goal. pysnmp's side is what its v1arch does
for each PDU (the objects of its `proto.api` and pyasn1's coders) without the socket and without any MIB look-up.
"""

import statistics
import sys
import time
from collections.abc import Callable

from pyasn1.codec.ber import decoder, encoder
from pysnmp.proto import api

from probes.snmp import message
from probes.snmp.message import REQUEST_IDS, Version

GOAL = 15.0
OBJECTS = 20
ROUNDS = 7
COMMUNITY = b"public"
THEIRS = api.PROTOCOL_MODULES[api.SNMP_VERSION_2C]
OIDS = tuple((1, 3, 6, 1, 2, 1, 43, 11, 1, 1, column, 1, row) for column in (6, 8, 9, 7) for row in range(1, 6))


def answer() -> bytes:
    """A response of the reference encoder: descriptions, capacities, levels and a counter, as a printer sends them."""
    values = [
        *(THEIRS.OctetString(f"Ink cartridge, position {row}") for row in range(1, 6)),
        *(THEIRS.Integer32(130_000 + row) for row in range(1, 6)),
        *(THEIRS.Integer32(-3 if row == 2 else row * 7) for row in range(1, 6)),
        *(THEIRS.Counter32(3_000_000_000 + row) for row in range(1, 6)),
    ]
    pdu = THEIRS.ResponsePDU()
    THEIRS.apiPDU.set_defaults(pdu)
    THEIRS.apiPDU.set_request_id(pdu, REQUEST_IDS[0])
    THEIRS.apiPDU.set_varbinds(pdu, list(zip(OIDS, values, strict=True)))
    return wrapped(pdu)


def wrapped(pdu: object) -> bytes:
    whole = THEIRS.Message()
    THEIRS.apiMessage.set_defaults(whole)
    THEIRS.apiMessage.set_community(whole, COMMUNITY)
    THEIRS.apiMessage.set_pdu(whole, pdu)
    return bytes(encoder.encode(whole))


def ours(octets: bytes, request_id: int) -> int:
    sent = message.get(Version.V2C, COMMUNITY, OIDS).octets(request_id)
    return len(sent) + len(message.decode(octets).pdu.varbinds)


def theirs(octets: bytes, request_id: int) -> int:
    pdu = THEIRS.GetRequestPDU()
    THEIRS.apiPDU.set_defaults(pdu)
    THEIRS.apiPDU.set_request_id(pdu, request_id)
    THEIRS.apiPDU.set_varbinds(pdu, [(oid, THEIRS.Null("")) for oid in OIDS])
    sent = wrapped(pdu)
    received, _ = decoder.decode(octets, asn1Spec=THEIRS.Message())
    return len(sent) + len(THEIRS.apiPDU.get_varbinds(THEIRS.apiMessage.get_pdu(received)))


def cpu_us(exchange: Callable[[bytes, int], int], octets: bytes, times: int) -> float:
    began = time.process_time()
    for turn in range(times):
        exchange(octets, REQUEST_IDS[turn])
    return (time.process_time() - began) / times * 1e6


def main() -> int:
    octets = answer()
    if ours(octets, REQUEST_IDS[0]) != theirs(octets, REQUEST_IDS[0]):
        sys.exit("the two codecs did not do the same work")
    rounds = [(cpu_us(ours, octets, 2000), cpu_us(theirs, octets, 60)) for _ in range(ROUNDS)]
    mine, reference = (statistics.median(column) for column in zip(*rounds, strict=True))
    ratio = statistics.median(theirs_us / ours_us for ours_us, theirs_us in rounds)
    print(f"ours {mine:.1f} us, pysnmp {reference:.1f} us a PDU pair of {OBJECTS} objects: {ratio:.1f} x cheaper")
    return 0 if ratio >= GOAL else 1


if __name__ == "__main__":
    sys.exit(main())
