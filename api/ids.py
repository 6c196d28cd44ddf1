"""Identifiers: permanent, opaque, in order of time (UUID version 7, RFC 9562 section 5.7); and page cursors."""

import base64
import binascii
import secrets
import time
import uuid

from api.errors import Problem


def new_id() -> str:
    """A new UUID of version 7 as text."""
    milliseconds = time.time_ns() // 1_000_000
    value = milliseconds << 80 | 0x7 << 76 | secrets.randbits(12) << 64 | 0b10 << 62 | secrets.randbits(62)
    return str(uuid.UUID(int=value))


def is_id(text: str) -> bool:
    """Whether a text is a UUID written in the usual way."""
    try:
        return str(uuid.UUID(text)) == text
    except ValueError:
        return False


def cursor_of(value: str | int) -> str:
    """An opaque cursor that stands for the place after `value`."""
    return base64.urlsafe_b64encode(str(value).encode()).decode().rstrip("=")


def text_of_cursor(cursor: str) -> str:
    """What a cursor stands for. Raises a 422 problem for one that was not made here."""
    try:
        text = base64.b64decode(cursor + "=" * (-len(cursor) % 4), altchars=b"-_", validate=True).decode()
    except (binascii.Error, ValueError) as error:
        raise Problem(422, "invalid", "the cursor is not one that a list of ours gave") from error
    if not text or "\0" in text:
        raise Problem(422, "invalid", "the cursor is not one that a list of ours gave")
    return text


def number_of_cursor(cursor: str) -> int:
    """The number that a cursor stands for. Raises a 422 problem for anything else."""
    text = text_of_cursor(cursor)
    if not (text.isascii() and text.isdigit() and len(text) <= 9):
        raise Problem(422, "invalid", "the cursor is not one that a list of ours gave")
    return int(text)
