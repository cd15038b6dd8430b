"""The tables of the logbook, and the steps from each version to the next."""

from __future__ import annotations

import sqlite3

APPLICATION_ID = 0x46726F73  # "Fros": tells our file from every other SQLite file

FIRST = (
    """CREATE TABLE belongs (
        place TEXT NOT NULL
    ) STRICT""",
    """CREATE TABLE runs (
        id INTEGER PRIMARY KEY,
        look TEXT NOT NULL,
        night TEXT NOT NULL,
        started TEXT NOT NULL,
        finished TEXT,
        ended TEXT CHECK (ended IN ('well', 'cannot see', 'failed')),
        detail TEXT NOT NULL DEFAULT ''
    ) STRICT""",
    "CREATE INDEX runs_by_start ON runs (started)",
    """CREATE TABLE plans (
        run INTEGER PRIMARY KEY REFERENCES runs (id),
        night TEXT NOT NULL,
        asked_at TEXT NOT NULL,
        brief TEXT NOT NULL,
        plan BLOB NOT NULL
    ) STRICT""",
    "CREATE INDEX plans_by_night ON plans (night, asked_at)",
    """CREATE TABLE answers (
        id INTEGER PRIMARY KEY,
        service TEXT NOT NULL,
        latitude_deg REAL NOT NULL,
        longitude_deg REAL NOT NULL,
        fetched TEXT NOT NULL,
        confirmed TEXT,
        url TEXT NOT NULL,
        status INTEGER NOT NULL,
        headers TEXT NOT NULL,
        body BLOB NOT NULL,
        UNIQUE (service, latitude_deg, longitude_deg, fetched)
    ) STRICT""",
    "CREATE INDEX answers_by_age ON answers (fetched)",
    """CREATE TABLE days (
        date TEXT PRIMARY KEY,
        minimum_c REAL NOT NULL,
        mean_c REAL NOT NULL
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE notices (
        key TEXT PRIMARY KEY,
        kind TEXT NOT NULL,
        night TEXT NOT NULL,
        made_at TEXT NOT NULL,
        interrupts INTEGER NOT NULL CHECK (interrupts IN (0, 1)),
        not_before TEXT,
        notice TEXT NOT NULL
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE deliveries (
        notice TEXT NOT NULL REFERENCES notices (key),
        channel TEXT NOT NULL,
        state TEXT NOT NULL CHECK (state IN ('owed', 'sending', 'sent', 'failed', 'lapsed')),
        changed TEXT NOT NULL,
        tries INTEGER NOT NULL DEFAULT 0,
        repeats INTEGER NOT NULL DEFAULT 0,
        failure TEXT,
        PRIMARY KEY (notice, channel)
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE said (
        key TEXT PRIMARY KEY,
        day TEXT NOT NULL,
        notice TEXT NOT NULL REFERENCES notices (key)
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE told (
        night TEXT PRIMARY KEY,
        brief TEXT NOT NULL,
        at TEXT NOT NULL
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE nights (
        night TEXT PRIMARY KEY,
        found TEXT NOT NULL CHECK (found IN ('plan', 'nothing to do', 'cannot see')),
        notice TEXT REFERENCES notices (key),
        at TEXT NOT NULL
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE jobs (
        number INTEGER PRIMARY KEY AUTOINCREMENT,
        night TEXT NOT NULL,
        pot TEXT NOT NULL,
        label TEXT NOT NULL,
        spot TEXT NOT NULL,
        protection TEXT NOT NULL,
        batch TEXT NOT NULL,
        to_spot TEXT NOT NULL DEFAULT '',
        start_by TEXT NOT NULL,
        minutes REAL NOT NULL,
        covers TEXT NOT NULL,
        litres REAL,
        undo_after TEXT,
        state TEXT NOT NULL CHECK (state IN ('open', 'finished', 'not tonight', 'taken back', 'dropped')),
        UNIQUE (night, pot, protection, to_spot)
    ) STRICT""",
    """CREATE TABLE sign_offs (
        id INTEGER PRIMARY KEY,
        job INTEGER NOT NULL REFERENCES jobs (number),
        word TEXT NOT NULL CHECK (word IN ('finished', 'not tonight', 'take back', 'ask again')),
        at TEXT NOT NULL,
        name TEXT NOT NULL
    ) STRICT""",
    """CREATE TABLE in_force (
        id INTEGER PRIMARY KEY,
        job INTEGER NOT NULL REFERENCES jobs (number),
        since TEXT NOT NULL,
        ended TEXT
    ) STRICT""",
    """CREATE TABLE waterings (
        id INTEGER PRIMARY KEY,
        pot TEXT NOT NULL,
        at TEXT NOT NULL,
        litres REAL,
        name TEXT NOT NULL,
        job INTEGER REFERENCES jobs (number)
    ) STRICT""",
    """CREATE TABLE wetness (
        pot TEXT NOT NULL,
        at TEXT NOT NULL,
        water_fraction REAL NOT NULL CHECK (water_fraction BETWEEN 0 AND 1),
        PRIMARY KEY (pot, at)
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE readings (
        series TEXT NOT NULL,
        at TEXT NOT NULL,
        temperature_c REAL NOT NULL,
        PRIMARY KEY (series, at)
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE reading_series (
        name TEXT PRIMARY KEY,
        pot TEXT,
        spot TEXT,
        place TEXT NOT NULL,
        source TEXT NOT NULL
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE tuned (
        id INTEGER PRIMARY KEY,
        batch INTEGER NOT NULL,
        subject TEXT NOT NULL,
        name TEXT NOT NULL,
        value REAL,
        spread REAL,
        at TEXT NOT NULL,
        note TEXT NOT NULL DEFAULT ''
    ) STRICT""",
    "CREATE INDEX tuned_by_name ON tuned (subject, name, id)",
    """CREATE TABLE losses (
        id INTEGER PRIMARY KEY,
        pot TEXT NOT NULL,
        label TEXT NOT NULL,
        plants TEXT NOT NULL,
        harm TEXT NOT NULL CHECK (harm IN ('dead', 'hurt')),
        night TEXT NOT NULL,
        at TEXT NOT NULL,
        note TEXT NOT NULL DEFAULT ''
    ) STRICT""",
)

LESSONS = (
    """CREATE TABLE outcomes (
        id INTEGER PRIMARY KEY,
        pot TEXT NOT NULL,
        label TEXT NOT NULL,
        plants TEXT NOT NULL,
        harm TEXT NOT NULL CHECK (harm IN ('dead', 'hurt', 'unhurt')),
        night TEXT NOT NULL,
        at TEXT NOT NULL,
        note TEXT NOT NULL DEFAULT '',
        air_c REAL
    ) STRICT""",
    "INSERT INTO outcomes (id, pot, label, plants, harm, night, at, note) "
    "SELECT id, pot, label, plants, harm, night, at, note FROM losses",
    "DROP TABLE losses",
    "ALTER TABLE outcomes RENAME TO losses",
    """CREATE TABLE sightings (
        loss INTEGER NOT NULL REFERENCES losses (id) ON DELETE CASCADE,
        plant TEXT NOT NULL,
        tissue TEXT NOT NULL,
        coldest_c REAL NOT NULL,
        limit_c REAL NOT NULL,
        error_k REAL NOT NULL,
        hurt INTEGER NOT NULL CHECK (hurt IN (0, 1)),
        PRIMARY KEY (loss, plant, tissue)
    ) STRICT, WITHOUT ROWID""",
)
"""Losses with the air of their night, what came through beside them, and what each tissue was seen to stand."""

PACE = ("ALTER TABLE jobs ADD COLUMN pace REAL NOT NULL DEFAULT 1.0",)
SOME_OF_ALIKE = ("ALTER TABLE jobs ADD COLUMN for_all INTEGER NOT NULL DEFAULT 1 CHECK (for_all IN (0, 1))",)
HOW_MANY = ("ALTER TABLE jobs ADD COLUMN count INTEGER NOT NULL DEFAULT 0",)  # 0: not noted at the time

EXPORT_LAYOUTS = (
    """CREATE TABLE export_layouts (
        layout TEXT PRIMARY KEY,
        clock TEXT,
        unit TEXT,
        date_order TEXT,
        ahead_h REAL NOT NULL DEFAULT 0
    ) STRICT, WITHOUT ROWID""",
)
"""What was said of the files of a logger."""

DARK_STAYS = (
    """CREATE TABLE dark_stays (
        pot TEXT NOT NULL,
        since TEXT NOT NULL,
        seen TEXT NOT NULL,
        goes_on INTEGER NOT NULL CHECK (goes_on IN (0, 1)),
        PRIMARY KEY (pot, since)
    ) STRICT, WITHOUT ROWID""",
)
"""When which pot stood in a dark room: from when to the last look that saw it there, and whether it stayed."""

VERSIONS = (FIRST, LESSONS, PACE, SOME_OF_ALIKE, HOW_MANY, EXPORT_LAYOUTS, DARK_STAYS)
"""The statements that lead from version n to n + 1; never changed once released, only added to."""

LATEST = len(VERSIONS)

TABLES = (
    "belongs",
    "runs",
    "plans",
    "answers",
    "days",
    "notices",
    "deliveries",
    "said",
    "told",
    "nights",
    "jobs",
    "sign_offs",
    "in_force",
    "waterings",
    "wetness",
    "dark_stays",
    "reading_series",
    "readings",
    "export_layouts",
    "tuned",
    "losses",
    "sightings",
)
"""All tables, those that others point to first."""


def version_of(connection: sqlite3.Connection) -> int:
    """The version of the tables, 0 for a file without any."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def migrate(connection: sqlite3.Connection) -> None:
    """Bring the tables to the latest version, each step whole or not at all."""
    while version_of(connection) < LATEST:
        connection.execute("BEGIN IMMEDIATE")
        try:
            version = version_of(connection)  # another process may have been faster
            for statement in VERSIONS[version] if version < LATEST else ():
                connection.execute(statement)
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            connection.execute(f"PRAGMA user_version = {min(version + 1, LATEST)}")
        except BaseException:
            connection.execute("ROLLBACK")
            raise
        connection.execute("COMMIT")
