"""The database: SQLite in WAL by default, PostgreSQL by URL; reading units and writing units.

SQLite's driver opens a transaction as a reader and upgrades it at the first write; two such units
that read and then write lose updates or fail. So the driver is set to autocommit and a writing unit
begins with BEGIN IMMEDIATE: it holds the one write lock from the start, and waits for it up to
``lock_wait_ms``.

PostgreSQL is made to keep the same two promises: a reading unit runs as REPEATABLE READ, so what it
sees stands still; a writing unit first takes one advisory lock, so writers go one after the other.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.orm import Session

from service.logs import get_log

MIGRATIONS = Path(__file__).resolve().parent / "migrations"
WRITE_OPTION = "grainfold_write"
# Any number will do, as long as every service on the same database takes the same one.
WRITER_LOCK = 0x677261696E

log = get_log("store")


class Database:
    """One database. ``reading()`` and ``writing()`` give a session for one unit of work."""

    def __init__(self, url: str, *, lock_wait_ms: int = 5000) -> None:
        self.engine = _make_engine(url, lock_wait_ms)
        self._writer = self.engine.execution_options(**{WRITE_OPTION: True})

    def upgrade(self) -> None:
        """Bring the tables to the newest form. Each step is one transaction."""
        with self._writer.connect() as connection, connection.begin():
            config = Config()
            config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
            config.attributes["connection"] = connection
            command.upgrade(config, "head")

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A session that only reads; what it sees does not change while it is open."""
        with Session(self.engine, expire_on_commit=False) as session, session.begin():
            yield session

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """A session whose changes are kept together when the block ends, or not at all."""
        with Session(self._writer, expire_on_commit=False) as session, session.begin():
            yield session

    def close(self) -> None:
        """Close all connections."""
        self.engine.dispose()


def _make_engine(url: str, lock_wait_ms: int) -> Engine:
    engine = create_engine(url)
    if engine.dialect.name == "sqlite":
        _hold_sqlite_to_it(engine, lock_wait_ms)
    elif engine.dialect.name == "postgresql":
        _hold_postgresql_to_it(engine, lock_wait_ms)
    return engine


def _hold_postgresql_to_it(engine: Engine, lock_wait_ms: int) -> None:
    @event.listens_for(engine, "begin")
    def _on_begin(connection: Connection) -> None:
        if not connection.get_execution_options().get(WRITE_OPTION, False):
            connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
            return
        # A wait of 0 would mean "for ever" here, and "not at all" in SQLite.
        connection.exec_driver_sql(f"SET LOCAL lock_timeout = {max(1, lock_wait_ms)}")
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({WRITER_LOCK})")


def _hold_sqlite_to_it(engine: Engine, lock_wait_ms: int) -> None:
    @event.listens_for(engine, "connect")
    def _on_connect(dbapi: Any, _record: Any) -> None:
        dbapi.isolation_level = None
        cursor = dbapi.cursor()
        cursor.execute(f"PRAGMA busy_timeout = {lock_wait_ms}")
        mode = cursor.execute("PRAGMA journal_mode = WAL").fetchone()[0]
        if mode not in ("wal", "memory"):
            log.warning("write-ahead log refused here, slower but safe", journal_mode=mode)
        cursor.execute("PRAGMA synchronous = NORMAL")
        cursor.execute("PRAGMA foreign_keys = ON")
        cursor.close()

    @event.listens_for(engine, "begin")
    def _on_begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get(WRITE_OPTION, False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
