"""The tables of the store and their reasons, which ``sqlite3 FILE .schema`` shows too. Stage: between run and outputs.

A night of 10,000 devices hardly differs from the one before. So a result is a row of numbers, and what it points at is
stored once for as long as it stays the same:

    run ──< result >── device ──< asked      the line of the fleet file, as it was asked
              │  │  │         └──< identity  what the device says that it is
              │  │  └── finding_set ──< set_finding >── finding
              │  └── supply_names, standard
              └── evidence >── sample        the case, as the difference from an earlier one of the same model

Two views, ``night`` and ``night_finding``, lay it out again for whoever looks with a tool of their own. All times are
whole milliseconds since 1970, and no number in here has a fraction.
"""

APPLICATION_ID = 0x6E636B73
"""Says in the file's header (offset 68) whose it is: "ncks"."""

VERSION = 1
"""The version of these tables, as ``PRAGMA user_version``. A store of a later one is left alone."""

SCHEMA = """
CREATE TABLE run (
    -- One sweep. A night is a run that has finished.
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    at_ms INTEGER NOT NULL CHECK (typeof(at_ms) = 'integer'), -- when it began: ms since 1970 (UTC), as all times here
    fleet TEXT NOT NULL,                 -- what was asked: nights are compared with those of the same fleet
    total INTEGER NOT NULL,              -- devices that it was to ask
    refused INTEGER NOT NULL DEFAULT 0,  -- rows of the fleet that could not be asked, beside those
    finished_ms INTEGER CHECK (typeof(finished_ms) IN ('integer', 'null')), -- null: still running, or it was killed
    unasked INTEGER,                     -- devices that it did not come to
    thinned INTEGER NOT NULL DEFAULT 0   -- 1: old, and only the last cases of some devices are left of it
);

CREATE TABLE device (
    -- One device of the fleet, the same every night.
    id INTEGER PRIMARY KEY,
    key TEXT NOT NULL UNIQUE,            -- site/host/queue
    site TEXT NOT NULL,
    host TEXT NOT NULL,
    first_run INTEGER NOT NULL REFERENCES run
);
CREATE INDEX device_site ON device (site, first_run); -- since when is a site in the fleet?

CREATE TABLE asked (
    -- A line of the fleet file as JSON, stored anew when it has changed; its number in the file is in result.
    id INTEGER PRIMARY KEY,
    device INTEGER NOT NULL REFERENCES device,
    line TEXT NOT NULL
);
CREATE INDEX asked_device ON asked (device, id);

CREATE TABLE identity (
    -- What a device says that it is, stored anew when that has changed; '' is what it did not say.
    id INTEGER PRIMARY KEY,
    device INTEGER NOT NULL REFERENCES device,
    model TEXT NOT NULL,
    serial TEXT NOT NULL,
    firmware TEXT NOT NULL,
    mac TEXT NOT NULL,
    address TEXT NOT NULL
);
CREATE INDEX identity_device ON identity (device, id);

CREATE TABLE standard (
    -- A Standard by which devices were judged, as JSON (RFC 8785).
    id INTEGER PRIMARY KEY,
    hash TEXT NOT NULL UNIQUE,           -- SHA-256 of content
    name TEXT NOT NULL,
    content TEXT NOT NULL
);

CREATE TABLE finding (
    -- One requirement that was not met: the same row for every device and night that it was said of in the same words.
    id INTEGER PRIMARY KEY,
    hash TEXT NOT NULL UNIQUE,           -- SHA-256 of all of it
    key TEXT NOT NULL,                   -- rule@role/item
    rule TEXT NOT NULL,                  -- what `netcheck explain` takes
    role TEXT NOT NULL,
    item TEXT NOT NULL,
    state TEXT NOT NULL,                 -- unmet or unproven
    weight TEXT NOT NULL,                -- blocker, care or note
    standing INTEGER NOT NULL,           -- 0 in the way, 1 missing, 2 to watch, 3 later, 4 note
    title TEXT NOT NULL,
    root INTEGER NOT NULL,               -- 1: nothing else explains it
    remedy TEXT NOT NULL,
    sources TEXT NOT NULL                -- what it rests on, a JSON list
);
CREATE INDEX finding_rule ON finding (rule); -- which devices have it?

CREATE TABLE finding_set (
    -- All that was found of a device in a night, heaviest first. Most nights it is the same as the night before.
    id INTEGER PRIMARY KEY,
    hash TEXT NOT NULL UNIQUE            -- SHA-256 of all of them
);
CREATE TABLE set_finding (
    set_id INTEGER NOT NULL REFERENCES finding_set ON DELETE CASCADE,
    place INTEGER NOT NULL,
    finding INTEGER NOT NULL REFERENCES finding,
    detail TEXT NOT NULL,                -- what was found and wanted: apart, as it is each device's own
    PRIMARY KEY (set_id, place)
) WITHOUT ROWID;

CREATE TABLE supply_names (
    -- The supplies of a device by their names, a JSON list; result.percents has a number for each.
    id INTEGER PRIMARY KEY,
    names TEXT NOT NULL UNIQUE
);

CREATE TABLE sample (
    -- A whole case, zlib-compressed, from which others of that model are stored as differences.
    id INTEGER PRIMARY KEY,
    model TEXT NOT NULL,
    packed BLOB NOT NULL
);
CREATE INDEX sample_model ON sample (model, id);

CREATE TABLE result (
    -- What became of one device in one run.
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    run INTEGER NOT NULL REFERENCES run,
    device INTEGER NOT NULL REFERENCES device,
    line INTEGER NOT NULL,               -- where it stood in the fleet file; 0 for a saved case
    at_ms INTEGER NOT NULL CHECK (typeof(at_ms) = 'integer'),
    took_ms INTEGER NOT NULL CHECK (typeof(took_ms) = 'integer'),
    state TEXT,                          -- ready, ready-with-care, not-ready, cannot-tell; null: no verdict, see fault
    fault TEXT NOT NULL,
    fine INTEGER NOT NULL,               -- requirements that are met
    asked INTEGER NOT NULL REFERENCES asked,
    identity INTEGER NOT NULL REFERENCES identity,
    standard INTEGER NOT NULL REFERENCES standard,
    findings INTEGER NOT NULL REFERENCES finding_set,
    supplies INTEGER NOT NULL REFERENCES supply_names,
    percents TEXT NOT NULL,              -- percent left, a JSON list; null: the device does not say
    UNIQUE (run, device)
);
CREATE INDEX result_order ON result (run, line); -- a night in the fleet's order
CREATE INDEX result_device ON result (device, run); -- a device through the nights

CREATE TABLE evidence (
    -- The evidence of a case (RFC 8785), zlib-compressed with a sample as its dictionary.
    result INTEGER PRIMARY KEY REFERENCES result ON DELETE CASCADE,
    sample INTEGER NOT NULL REFERENCES sample,
    packed BLOB NOT NULL
);

CREATE VIEW night AS -- a row for each device and run
    SELECT result.run, device.key, device.site, device.host, result.at_ms, result.took_ms, result.state, result.fault,
        identity.model, identity.serial, identity.firmware, identity.mac, identity.address, result.fine,
        standard.name AS standard, supply_names.names AS supplies, result.percents
    FROM result JOIN device ON device.id = result.device JOIN identity ON identity.id = result.identity
        JOIN standard ON standard.id = result.standard JOIN supply_names ON supply_names.id = result.supplies;

CREATE VIEW night_finding AS -- a row for each finding of a device in a run
    SELECT result.run, device.key, set_finding.place, finding.rule, finding.role, finding.item, finding.state,
        finding.weight, finding.standing, finding.title, set_finding.detail, finding.remedy, finding.root
    FROM result JOIN device ON device.id = result.device JOIN set_finding ON set_finding.set_id = result.findings
        JOIN finding ON finding.id = set_finding.finding;
"""
