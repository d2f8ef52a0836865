"""Devices that tell on what they should not: what they were asked with, and passwords of their own."""

import base64
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from typing import Any

from aiohttp import web
from pysnmp.carrier.asyncio.dgram import udp
from pysnmp.entity import config
from pysnmp.entity.engine import SnmpEngine
from pysnmp.entity.rfc3413 import cmdrsp, context
from pysnmp.proto import rfc1905
from pysnmp.smi.instrum import AbstractMibInstrumController

from .secrets_site import ENGINE_IDS, canary
from .snmp_agent import V2C, Rows, oid
from .snmp_device import rows
from .test_ipp_bytes import OK, PRINTER, attribute, integer, message, name, octets, text, uri

USER = "diag"
SYSTEM = "1.3.6.1.2.1.1"
SAYS = "Halden 36R, asked by"
"""What the devices' talk begins with, which shows that it was heard."""


def uris(place: str) -> dict[str, str]:
    """URIs with a password of their own each, by how they are made: RFC 3986 s3.2.1, and as some write them."""
    hosts = "halden-36r.example"
    return {
        "proper": f"http://admin:{canary(place + ' proper')}@{hosts}/",
        "in a text": f"see (https://admin:{canary(place + ' in a text')}@{hosts}:8443/x?y=1#z), or call 12",
        "delimiters": f"ipp://admin:a/b?{canary(place + ' delimiters')}#c@{hosts}/ipp/print",
        "at": f"ftp://a@b:{canary(place + ' at')}@c@{hosts}",
        "user alone": f"smb://{canary(place + ' user alone')}@{hosts}/scans",
        "nested": f"http://{hosts}/go?to=http%3A%2F%2Fadmin%3A{canary(place + ' nested')}%40{hosts}%2F",
        "behind": f"http://{hosts}/http://admin:{canary(place + ' behind')}@{hosts}/",
        "no scheme": f"//admin:{canary(place + ' no scheme')}@{hosts}/",
    }


def passwords(place: str) -> list[str]:
    return [canary(f"{place} {how}") for how in uris(place)]


def echoes(secret: str) -> list[str | bytes]:
    """What a device may make of something that it was asked with."""
    raw = secret.encode()
    return [
        f"{SAYS} {secret}.",
        f"{SAYS} {secret.upper()} or {secret.lower()}",
        f"{SAYS} {raw.hex()} {raw.hex(':')} {raw[::-1].hex('-')}",
        f"{SAYS} {'.'.join(map(str, raw))}",
        f"{SAYS} {' '.join(base64.b64encode(b'x' * n + raw + b'yz').decode() for n in range(3))}",
        b"\xff\xfe" + raw,
        f"{SAYS} {'x' * (512 - len(SAYS) - len(secret))}{secret}",
    ]


def telling_rows(*secrets: str) -> Rows:
    """The test device, which puts secrets and URIs wherever the standards have room for a text."""
    said = rows()
    spoken = [each for secret in secrets for each in echoes(secret)] + list(uris("SNMP").values())
    talk = [each.encode() if isinstance(each, str) else each for each in spoken]
    said[oid(f"{SYSTEM}.1.0")] = V2C.OctetString(talk[0])  # sysDescr
    said[oid(f"{SYSTEM}.2.0")] = V2C.ObjectIdentifier((1, 3, 6, 1, 4, 1, *(secrets or ("x",))[0].encode()))
    said[oid(f"{SYSTEM}.4.0")] = V2C.OctetString(talk[-1])  # sysContact
    said[oid(f"{SYSTEM}.5.0")] = V2C.OctetString(talk[1])  # sysName
    said[oid(f"{SYSTEM}.6.0")] = V2C.OctetString("; ".join(uris("sysLocation").values()))
    for number, each in enumerate(talk, 1):
        said[oid(f"1.3.6.1.2.1.43.16.5.1.2.1.{number}")] = V2C.OctetString(each)  # prtConsoleDisplayBufferText
        alert = {2: 4, 3: 3, 4: 8, 5: 1, 6: -2, 7: 808, 8: each, 9: V2C.TimeTicks(100)}  # RFC 3805 s4.1.6
        for column, value in alert.items():
            put = V2C.Integer32(value) if isinstance(value, int) else value
            cell = V2C.OctetString(put) if isinstance(put, bytes) else put
            said[oid(f"1.3.6.1.2.1.43.18.1.1.{column}.1.{number + 10}")] = cell
    return said


# --- SNMPv3 ----------------------------------------------------------------------------------------------------------


class _Instrument(AbstractMibInstrumController):  # type: ignore[misc]
    """Rows in the place of pysnmp's MIB; counts what it is asked."""

    def __init__(self, said: Rows) -> None:
        self._rows, self._names, self.asked = said, sorted(said), 0

    def read_variables(self, *binds: Any, **_: Any) -> list[Any]:
        self.asked += 1
        return [(each, self._rows.get(tuple(each), rfc1905.noSuchInstance)) for each, _ in binds]

    def read_next_variables(self, *binds: Any, **_: Any) -> list[Any]:
        self.asked += 1
        return [self._after(tuple(each)) for each, _ in binds]

    def _after(self, named: tuple[int, ...]) -> tuple[Any, Any]:
        follower = next((each for each in self._names if each > named), None)
        return (named, rfc1905.endOfMibView) if follower is None else (follower, self._rows[follower])


@asynccontextmanager
async def user_agent(auth: str, priv: str, said: Rows) -> AsyncIterator[tuple[int, _Instrument]]:
    """pysnmp as the agent of one user with SHA-256 and AES-128: its port, and what was asked with the right keys."""
    engine = SnmpEngine()
    ENGINE_IDS.append(bytes(engine.snmpEngineID))
    transport = udp.UdpTransport().open_server_mode(("127.0.0.1", 0))
    config.add_transport(engine, udp.DOMAIN_NAME, transport)
    hashed, cipher = config.USM_AUTH_HMAC192_SHA256, config.USM_PRIV_CFB128_AES
    config.add_v3_user(engine, USER, hashed, auth, cipher, priv)
    config.add_vacm_user(engine, 3, USER, "authPriv", (1, 3, 6), ())
    served, instrument = context.SnmpContext(engine), _Instrument(said)
    served.unregister_context_name(b"")
    served.register_context_name(b"", instrument)
    for responder in (cmdrsp.GetCommandResponder, cmdrsp.NextCommandResponder, cmdrsp.BulkCommandResponder):
        responder(engine, served)
    await transport._lport
    try:
        yield transport.transport.get_extra_info("sockname")[1], instrument
    finally:
        engine.close_dispatcher()


# --- IPP -------------------------------------------------------------------------------------------------------------


def printer(*secrets: str) -> bytes:
    """Everything that a printer says, with secrets and URIs wherever there is room for a text."""
    told = uris("IPP")
    spoken = [text(each) for secret in secrets for each in echoes(secret)[:5] if isinstance(each, str)]
    return message(
        OK,
        PRINTER,
        attribute("printer-uri-supported", *map(uri, told.values())),
        attribute("printer-name", name(f"{SAYS} {secrets[0]}")),
        attribute("printer-info", text(told["in a text"])),
        attribute("printer-more-info", *map(uri, told.values())),
        attribute("printer-location", *spoken),
        attribute("printer-make-and-model", text(f"{SAYS} {secrets[0]}")),
        attribute("printer-device-id", text(f"MFG:Halden;MDL:36R;SN:{secrets[0]};CMD:{told['proper']};")),
        attribute("printer-state-message", text(told["behind"] + " " + told["nested"])),
        attribute("printer-supply", octets(f"type=ink;level=50;x={secrets[0]};".encode())),
        attribute("printer-supply-description", text(f"{SAYS} {secrets[0]}")),
        attribute("printer-supply-info-uri", uri(told["at"])),
        attribute("printer-serial-number", octets(b"\xff" + secrets[0].encode() + told["proper"].encode())),
        attribute("device-uri", uri(told["user alone"])),
        attribute("printer-state", (0x23, (3).to_bytes(4))),
        attribute("queued-job-count", integer(0)),
    )


Answers = Callable[[web.BaseRequest, list[str]], web.Response]


@asynccontextmanager
async def web_server(answers: Answers) -> AsyncIterator[tuple[int, list[str]]]:
    """An HTTP server: its port, and the path of every POST."""
    asked: list[str] = []

    async def handler(request: web.BaseRequest) -> web.Response:
        await request.read()
        asked.append(request.rel_url.raw_path_qs)
        return answers(request, asked)

    runner = web.ServerRunner(web.Server(handler), shutdown_timeout=0.1)
    await runner.setup()
    await web.TCPSite(runner, "127.0.0.1", 0).start()
    try:
        yield runner.addresses[0][1], asked
    finally:
        await runner.cleanup()


def ipp(body: bytes) -> Answers:
    return lambda _request, _asked: web.Response(body=body, content_type="application/ipp")
