"""The store: migrations give the tables that the code expects; writing units lose no update."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError, OperationalError

from service.store.database import Database
from service.store.tables import Base, NoteRow, RevisionRow
from tests.service.databases import KINDS, fresh_database


@pytest.fixture(params=KINDS)
def database(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Database]:
    with fresh_database(request.param, tmp_path) as url:
        made = Database(url)
        made.upgrade()
        yield made
        made.close()


def test_migrations_and_tables_agree(database: Database) -> None:
    with database.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Base.metadata) == []


def test_upgrading_twice_changes_nothing(database: Database) -> None:
    with database.writing() as session:
        session.add(NoteRow(name="kept", value="yes"))
    database.upgrade()
    with database.reading() as session:
        assert session.get_one(NoteRow, "kept").value == "yes"


def test_a_revision_of_no_style_is_refused(database: Database) -> None:
    with pytest.raises(IntegrityError), database.writing() as session:
        session.add(RevisionRow(style_id="no such style", number=1, sheet={}))


def test_sqlite_writes_its_log_ahead(tmp_path: Path) -> None:
    made = Database(f"sqlite+pysqlite:///{tmp_path / 'store.db'}")
    with made.reading() as session:
        assert session.execute(text("PRAGMA journal_mode")).scalar_one() == "wal"
        assert session.execute(text("PRAGMA busy_timeout")).scalar_one() == 5000
    made.close()


def test_a_unit_that_fails_keeps_nothing(database: Database) -> None:
    def fail() -> None:
        with database.writing() as session:
            session.add(NoteRow(name="lost", value=""))
            session.flush()
            raise RuntimeError("power cut")

    with pytest.raises(RuntimeError):
        fail()
    with database.reading() as session:
        assert session.get(NoteRow, "lost") is None


def test_read_then_write_loses_no_update_beside_others(database: Database) -> None:
    """Four threads count up fifty times each; units that begin as readers lose most of them."""
    with database.writing() as session:
        session.add(NoteRow(name="count", value="0"))

    def count() -> None:
        for _ in range(50):
            with database.writing() as session:
                row = session.get_one(NoteRow, "count")
                row.value = str(int(row.value) + 1)

    threads = [threading.Thread(target=count) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with database.reading() as session:
        assert session.get_one(NoteRow, "count").value == "200"


def test_a_reader_is_not_held_up_by_a_writer(database: Database) -> None:
    with database.writing() as writer:
        writer.add(NoteRow(name="new", value=""))
        writer.flush()
        with database.reading() as reader:
            assert reader.get(NoteRow, "new") is None


def test_what_a_reader_sees_stands_still(database: Database) -> None:
    with database.reading() as reader:
        assert reader.get(NoteRow, "new") is None
        with database.writing() as writer:
            writer.add(NoteRow(name="new", value=""))
        assert reader.get(NoteRow, "new") is None


def test_a_writer_that_waited_too_long_is_refused(database: Database) -> None:
    """The second writer begins while the first has the lock: told, not hung."""
    hasty = Database(database.engine.url.render_as_string(hide_password=False), lock_wait_ms=50)
    with database.writing() as first:
        first.add(NoteRow(name="first", value=""))
        first.flush()
        with pytest.raises(OperationalError), hasty.writing() as second:
            second.add(NoteRow(name="second", value=""))
    hasty.close()
    with database.reading() as session:
        assert session.get(NoteRow, "first") is not None
        assert session.get(NoteRow, "second") is None
