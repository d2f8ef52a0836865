"""Columns for the tests of the read half, written as an agent's objects: `{"prtInputType.1.2": 6}`."""

from typing import Any

from probes.snmp import mib, plan
from probes.snmp.harvest import Harvest, Harvested
from probes.snmp.message import Syntax, VarBind, Version
from probes.snmp.plan import Topic
from probes.snmp.reading import read

Cells = dict[str, Any]
DEVICE = 1


def value_of(value: Any) -> tuple[Syntax, Any]:
    match value:
        case Syntax() as syntax, given:
            return syntax, given
        case bytes():
            return Syntax.OCTET_STRING, value
        case str():
            return Syntax.OCTET_STRING, value.encode()
        case tuple():
            return Syntax.OBJECT_IDENTIFIER, value
        case _:
            return Syntax.INTEGER32, value


def harvest(topic: Topic, cells: Cells, complete: bool = True, version: Version = Version.V2C) -> Harvest:
    """Columns from `{"prtInputType.1.2": 6}`; those that are not named are complete and empty."""
    rows: dict[str, dict[tuple[int, ...], VarBind]] = {}
    for name, value in cells.items():
        column, *index = name.split(".")
        place = tuple(map(int, index))
        rows.setdefault(column, {})[place] = VarBind(place, *value_of(value))
    topics = (topic, Topic.HOST) if topic in plan.ON_THE_PRINTER else (topic,)
    tables = [table for each in topics for table in plan.TABLES.get(each, ())]
    names = {name for table in tables for name in table.columns} | rows.keys()
    return Harvest(topic, version, {name: Harvested(rows.get(name, {}), complete) for name in names})


PRINTER: Cells = {f"hrDeviceType.{DEVICE}": mib.HR_DEVICE_PRINTER}


def facts(topic: Topic, cells: Cells, **options: Any) -> list[Any]:
    host = PRINTER if topic in plan.ON_THE_PRINTER else {}
    return [fact for _, fact in read(harvest(topic, host | cells, **options))]


def the_fact(topic: Topic, cells: Cells, **options: Any) -> Any:
    found = facts(topic, cells, **options)
    assert len(found) == 1, found
    return found[0]
