"""Run by Alembic; `api.store.migrate` hands it the open connection."""

from alembic import context
from sqlmodel import SQLModel

import models.records  # noqa: F401  (fills the metadata)

connection = context.config.attributes.get("connection")
if connection is None:
    raise RuntimeError("migrations run through api.store.migrate.migrate(engine)")
context.configure(
    connection=connection, target_metadata=SQLModel.metadata, transactional_ddl=True, render_as_batch=True
)
context.run_migrations()
