"""Independent decoders agree: what net-snmp prints of an agent, and what our facts say of it, value by value."""

from typing import Any

from .clients import snmp_walk
from .office import Office
from .visit import ready

PRINTER = "1.3.6.1.2.1.43"


def theirs(office: Office, column: str) -> dict[tuple[int, ...], str]:
    """One column as net-snmp prints it, by index."""
    prefix = f".{PRINTER}.{column}."
    rows = (line.partition(" ")[::2] for line in snmp_walk(office.site, "new", f"{PRINTER}.{column}"))
    return {tuple(map(int, oid.removeprefix(prefix).split("."))): value.strip().strip('"') for oid, value in rows}


def ours(office: Office, kind: str) -> Any:
    document = ready(office).document
    (value,) = [
        each["value"]
        for each in document["observations"]
        if (each["role"], each["probe"], each["kind"]) == ("new", "snmp", kind)
    ]
    return value


def as_number(amount: dict[str, Any]) -> int:
    """RFC 3805 s2.4, backwards."""
    return int({"some": -3, "unknown": -2, "unrestricted": -1}.get(amount["is"], amount.get("value", 0)))


def test_supplies(office: Office) -> None:
    rows = ours(office, "supplies")["rows"]
    levels, capacities = theirs(office, "11.1.1.9"), theirs(office, "11.1.1.8")
    names = theirs(office, "11.1.1.6")
    assert {(1, row["index"]) for row in rows} == set(levels)
    for row in rows:
        index = (1, row["index"])
        assert (as_number(row["level"]), as_number(row["capacity"])) == (int(levels[index]), int(capacities[index]))
        assert row["description"] == names[index]


def test_inputs_in_micrometres(office: Office) -> None:
    rows = ours(office, "inputs")["rows"]
    across, levels, media = theirs(office, "8.2.1.7"), theirs(office, "8.2.1.10"), theirs(office, "8.2.1.21")
    units = theirs(office, "8.2.1.3")
    assert {(1, row["index"]) for row in rows} == set(levels)
    for row in rows:
        index = (1, row["index"])
        scale = {3: 2.54, 4: 1.0}[int(units[index])]
        expected = int(across[index]) if int(across[index]) < 0 else round(int(across[index]) * scale)
        assert as_number(row["cross"]) == expected
        assert as_number(row["level"]) == int(levels[index])
        assert row["media_type"] == media[index]


def test_covers_and_meters(office: Office) -> None:
    covers = {(1, row["index"]): row["status"] for row in ours(office, "covers")["rows"]}
    labels = {"3": "coverOpen", "4": "coverClosed", "5": "interlockOpen", "6": "interlockClosed"}
    assert covers == {index: labels[value] for index, value in theirs(office, "6.1.1.3").items()}
    lives = {(1, row["index"]): str(row["life_count"]) for row in ours(office, "markers")["rows"]}
    assert lives == theirs(office, "10.2.1.4")


def test_the_whole_device_costs_at_most_fourteen_questions(office: Office) -> None:
    """Counted by the agent itself: snmpInPkts (RFC 3418), with the two questions that ask for it."""
    before = int(snmp_walk(office.site, "new", "1.3.6.1.2.1.11.1")[0].split()[-1])
    ready(office)
    after = int(snmp_walk(office.site, "new", "1.3.6.1.2.1.11.1")[0].split()[-1])
    assert after - before - 2 <= 14, after - before
