"""Ports on loopback. Pure.

In a rehearsal, and through tunnels, all devices are at one address, and their ports tell them apart, which are others
with every run. There a port is a part of the address, and nothing that a device was changed in. So both cases get the
usual ports before their facts are laid side by side; they are never judged in that form.
"""

import re
from typing import Any

import msgspec

from netcheck.case import Case
from netcheck.move import DeviceRef, Ports
from netcheck.place import DEFAULT_PORTS, is_loopback

_AUTHORITY = re.compile(r"(127\.0\.0\.1|localhost|\[::1\]):(\d{1,5})\b")


def settled(case: Case) -> Case:
    """The case with the usual port of each service that its Move names on loopback, in its facts and in its Move."""
    move = case.move
    refs = {name: ref for name in ("old", "new", "device") if (ref := getattr(move, name)) and is_loopback(ref.host)}
    usual = {port: DEFAULT_PORTS[service] for ref in refs.values() for service, port in ref.ports.named().items()}
    queue = move.queue
    if queue and is_loopback(queue.server.rpartition(":")[0]):
        usual[int(queue.server.rpartition(":")[2])] = DEFAULT_PORTS["ipp"]
        queue = msgspec.structs.replace(queue, server=_text(queue.server, usual))
    if not usual:
        return case
    bare: dict[str, DeviceRef] = {name: msgspec.structs.replace(ref, ports=Ports()) for name, ref in refs.items()}
    return msgspec.structs.replace(
        case,
        move=msgspec.structs.replace(move, queue=queue, **bare),
        observations=tuple(
            msgspec.structs.replace(item, value=_settled("", item.value, usual)) for item in case.observations
        ),
    )


def _settled(name: str, value: Any, usual: dict[int, int]) -> Any:
    match value:
        case dict():
            return {key: _settled(key, each, usual) for key, each in value.items()}
        case list():
            return [_settled(name, each, usual) for each in value]
        case int() if name == "port" and not isinstance(value, bool):
            return usual.get(value, value)
        case str():
            return _text(value, usual)
        case _:
            return value


def _text(text: str, usual: dict[int, int]) -> str:
    if ":" not in text:
        return text
    return _AUTHORITY.sub(lambda found: f"{found[1]}:{usual.get(int(found[2]), int(found[2]))}", text)
