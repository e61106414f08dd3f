"""The databases that tests run on: SQLite in a folder, and PostgreSQL where a server is named.

``GRAINFOLD_TEST_POSTGRES`` is the URL of a server on which databases may be made and dropped, for
example ``postgresql+psycopg:///postgres?host=/run/postgresql``. Each test gets a database of its own.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from uuid import uuid4

from sqlalchemy import create_engine, make_url

SERVER = os.environ.get("GRAINFOLD_TEST_POSTGRES")
KINDS = ("sqlite", "postgresql") if SERVER else ("sqlite",)


@contextmanager
def fresh_database(kind: str, folder: Path) -> Iterator[str]:
    """The URL of an empty database of this kind, dropped at the end."""
    if kind == "sqlite":
        yield f"sqlite+pysqlite:///{folder / 'store.db'}"
        return
    assert SERVER
    name = f"grainfold_{uuid4().hex}"
    server = create_engine(SERVER, isolation_level="AUTOCOMMIT")
    with server.connect() as connection:
        connection.exec_driver_sql(f"CREATE DATABASE {name}")
    try:
        yield make_url(SERVER).set(database=name).render_as_string(hide_password=False)
    finally:
        with server.connect() as connection:
            connection.exec_driver_sql(f"DROP DATABASE {name} WITH (FORCE)")
        server.dispose()
