"""Retention: how nights are forgotten. Stage: behind `Store.prune`.

Runs themselves are never forgotten, a line each: since when a site is in the fleet is counted in them.
"""

import sqlite3

_FORGET = """
    DELETE FROM result WHERE run IN (SELECT id FROM run WHERE thinned = 1) AND id NOT IN (
        SELECT max(id) FROM result GROUP BY device
        UNION SELECT max(result.id) FROM result JOIN evidence ON evidence.result = result.id GROUP BY result.device
    )
"""
"""Of every thinned run: what was a device's last one may not be so any more."""
_UNUSED = (
    "DELETE FROM asked WHERE id NOT IN (SELECT asked FROM result)",
    "DELETE FROM identity WHERE id NOT IN (SELECT identity FROM result)",
    "DELETE FROM standard WHERE id NOT IN (SELECT standard FROM result)",
    "DELETE FROM supply_names WHERE id NOT IN (SELECT supplies FROM result)",
    "DELETE FROM finding_set WHERE id NOT IN (SELECT findings FROM result)",
    "DELETE FROM set_finding WHERE set_id NOT IN (SELECT id FROM finding_set)",
    "DELETE FROM finding WHERE id NOT IN (SELECT finding FROM set_finding)",
    "DELETE FROM evidence WHERE result NOT IN (SELECT id FROM result)",
    "DELETE FROM sample WHERE id NOT IN (SELECT sample FROM evidence)",
)
"""Each after what leads to it."""


def prune(connection: sqlite3.Connection, keep_nights: int) -> int:
    """Thin the runs before the last ``keep_nights`` that finished, fleet by fleet. Returns how many results went."""
    old = _old(connection, keep_nights)
    if not old:
        return 0
    # Every row that goes would be looked for in all tables that may lead to it, and most have no index for that; what
    # is deleted here is only what nothing leads to.
    connection.execute("PRAGMA foreign_keys = OFF")
    try:
        forgotten = _forget(connection, old)
    finally:
        connection.execute("PRAGMA foreign_keys = ON")
    connection.executescript("PRAGMA incremental_vacuum")  # `execute` would stop after one page: they come as rows
    connection.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchall()  # whoever is reading now is not waited for
    return forgotten


def _old(connection: sqlite3.Connection, keep_nights: int) -> list[int]:
    question = "SELECT id, fleet, finished_ms IS NOT NULL, thinned FROM run ORDER BY id DESC"
    nights: dict[str, int] = {}
    old: list[int] = []
    for number, fleet, finished, thinned in connection.execute(question):
        if nights.get(fleet, 0) >= keep_nights and not thinned:
            old.append(number)
        nights[fleet] = nights.get(fleet, 0) + finished
    return old


def _forget(connection: sqlite3.Connection, old: list[int]) -> int:
    connection.execute("BEGIN IMMEDIATE")
    try:
        connection.executemany("UPDATE run SET thinned = 1 WHERE id = ?", [(number,) for number in old])
        gone = connection.execute(_FORGET).rowcount
        for statement in _UNUSED:
            connection.execute(statement)
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
    return gone
