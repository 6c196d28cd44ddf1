"""The engine and its two kinds of session: one that reads, one that writes in a single transaction.

SQLite runs with a write-ahead log, synchronous=FULL (what was answered survives a power cut), and a writer begins
with BEGIN IMMEDIATE, so that writers queue instead of failing half-way. PostgreSQL locks by row.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import make_url
from sqlmodel import Session

WAIT_FOR_LOCK_S = 15
CONNECTIONS = 40


def make_engine(url: str) -> Engine:
    """An engine for an SQLite file or a PostgreSQL database. Makes the folder of the file."""
    parsed = make_url(url)
    if parsed.get_backend_name() != "sqlite":
        return create_engine(parsed, pool_size=CONNECTIONS, max_overflow=10, pool_pre_ping=True)
    if not parsed.database or parsed.database == ":memory:":
        raise ValueError("an SQLite database has to be a file")
    Path(parsed.database).parent.mkdir(parents=True, exist_ok=True)
    engine = create_engine(
        parsed,
        pool_size=CONNECTIONS,
        max_overflow=10,
        connect_args={"check_same_thread": False, "timeout": WAIT_FOR_LOCK_S},
    )
    event.listen(engine, "connect", _prepare_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def _prepare_sqlite(connection: Any, _record: object) -> None:
    connection.isolation_level = None
    # What is deleted is overwritten too: an erased person is not left in free pages of the file.
    for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON", "trusted_schema=OFF", "secure_delete=ON"):
        connection.execute(f"PRAGMA {pragma}")


def _begin_sqlite(connection: Connection) -> None:
    connection.exec_driver_sql("BEGIN IMMEDIATE" if connection.get_execution_options().get("writes") else "BEGIN")


@contextmanager
def reading(engine: Engine) -> Iterator[Session]:
    """A session that sees one state of the database and changes nothing."""
    if engine.dialect.name == "postgresql":
        engine = engine.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)
    with Session(engine, autoflush=False, expire_on_commit=False) as session:
        yield session


@contextmanager
def writing(engine: Engine) -> Iterator[Session]:
    """A session in one transaction, committed at the end and rolled back when anything is raised."""
    with Session(engine.execution_options(writes=True), expire_on_commit=False) as session:
        try:
            yield session
            session.commit()
        except BaseException:
            session.rollback()
            raise
