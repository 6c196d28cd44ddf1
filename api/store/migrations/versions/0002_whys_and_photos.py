"""Reasons of figures apart from the quote, and what is known of a photograph."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

_FAULT = "the reasons of an issued quote stay as they are"
_ISSUED = "(SELECT document FROM quote WHERE id = OLD.quote_id) IS NOT NULL"


def upgrade() -> None:
    """A table of its own for the reasons, guarded once the quote is issued; hash and size of photographs."""
    op.create_table(
        "quote_why",
        sa.Column("quote_id", sa.String(length=36), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(["quote_id"], ["quote.id"]),
        sa.PrimaryKeyConstraint("quote_id"),
    )
    for column in (sa.Column("sha256", sa.String(length=64), nullable=False, server_default=""),
                   sa.Column("width_px", sa.Integer(), nullable=False, server_default="0"),
                   sa.Column("height_px", sa.Integer(), nullable=False, server_default="0")):  # fmt: skip
        op.add_column("photo", column)
    for event, row in (("UPDATE", "NEW"), ("DELETE", "OLD")):
        name = f"quote_why_no_{event.lower()}"
        if op.get_bind().dialect.name == "postgresql":
            op.execute(
                f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF {_ISSUED} THEN "
                f"RAISE EXCEPTION '{_FAULT}'; END IF; RETURN {row}; END $$"
            )
            op.execute(f"CREATE TRIGGER {name} BEFORE {event} ON quote_why FOR EACH ROW EXECUTE FUNCTION {name}()")
        else:
            op.execute(
                f"CREATE TRIGGER {name} BEFORE {event} ON quote_why WHEN {_ISSUED} "
                f"BEGIN SELECT RAISE(ABORT, '{_FAULT}'); END"
            )


def downgrade() -> None:
    """Take them out again."""
    op.drop_table("quote_why")
    if op.get_bind().dialect.name == "postgresql":
        for event in ("update", "delete"):
            op.execute(f"DROP FUNCTION quote_why_no_{event}()")
    for name in ("height_px", "width_px", "sha256"):
        op.drop_column("photo", name)
