"""What a standard, a law or a scheme says: read-only tables and dated values, each with its source."""

from models.reference.load import (
    BrokenTable as BrokenTable,
    Defaults as Defaults,
    Reference as Reference,
    load as load,
)
