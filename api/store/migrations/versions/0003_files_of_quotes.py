"""The files of an issued quote: bytes that are rendered once."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

_FAULT = "the files of an issued quote stay as they are"
_ISSUED = "EXISTS (SELECT 1 FROM quote_event WHERE quote_id = NEW.quote_id AND event = 'issued')"
_ERASED = (
    "EXISTS (SELECT 1 FROM quote JOIN job ON job.id = quote.job_id JOIN party ON party.id = job.party_id "
    "WHERE quote.id = OLD.quote_id AND party.erased_at IS NOT NULL)"
)
_WHEN = {
    "INSERT": _ISSUED,
    "UPDATE": "1 = 1",
    "DELETE": f"NOT (OLD.names_party AND {_ERASED})",
}
"""When a row may not be written: files come with the issue itself, and only a name goes, with the person."""


def upgrade() -> None:
    """The table, and the guards of its rows."""
    op.create_table(
        "quote_file",
        sa.Column("quote_id", sa.String(length=36), nullable=False),
        sa.Column("kind", sa.String(length=8), nullable=False),
        sa.Column("names_party", sa.Boolean(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(["quote_id"], ["quote.id"]),
        sa.PrimaryKeyConstraint("quote_id", "kind", "names_party"),
    )
    for event, when in _WHEN.items():
        name = f"quote_file_no_{event.lower()}"
        if op.get_bind().dialect.name == "postgresql":
            op.execute(
                f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF {when} THEN "
                f"RAISE EXCEPTION '{_FAULT}'; END IF; RETURN {'OLD' if event == 'DELETE' else 'NEW'}; END $$"
            )
            op.execute(f"CREATE TRIGGER {name} BEFORE {event} ON quote_file FOR EACH ROW EXECUTE FUNCTION {name}()")
        else:
            op.execute(
                f"CREATE TRIGGER {name} BEFORE {event} ON quote_file WHEN {when} "
                f"BEGIN SELECT RAISE(ABORT, '{_FAULT}'); END"
            )


def downgrade() -> None:
    """Take them out again."""
    op.drop_table("quote_file")
    if op.get_bind().dialect.name == "postgresql":
        for event in _WHEN:
            op.execute(f"DROP FUNCTION quote_file_no_{event.lower()}()")
