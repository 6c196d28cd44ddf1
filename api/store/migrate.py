"""Bringing a database to the present tables, from nothing or from any earlier release."""

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, text

_FOLDER = Path(__file__).parent / "migrations"
_LOCK_NUMBER = 870_001


def _config(connection: Connection | None = None) -> Config:
    config = Config()
    config.set_main_option("script_location", str(_FOLDER).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    return config


def migrate(engine: Engine) -> None:
    """Run every migration that this database has not seen, in one transaction that other processes wait for."""
    with engine.execution_options(writes=True).begin() as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:number)"), {"number": _LOCK_NUMBER})
        command.upgrade(_config(connection), "head")


def is_current(engine: Engine) -> bool:
    """Whether the database stands at the newest migration."""
    newest = ScriptDirectory.from_config(_config()).get_current_head()
    with engine.connect() as connection:
        return MigrationContext.configure(connection).get_current_revision() == newest
