"""Queries about kept answers, the audit list and facts about the database."""

import json
from datetime import datetime
from typing import Any

from sqlalchemy.dialects import postgresql, sqlite
from sqlmodel import Session

from api.ids import new_id
from models.records import AppMeta, Audit, Idempotency


def claim_key(
    session: Session, *, actor: str, key: str, path: str, body_hash: str, now: datetime
) -> Idempotency | None:
    """Claim an idempotency key. None when it is new; otherwise what it was used for, waiting for another worker."""
    insert = postgresql.insert if session.get_bind().dialect.name == "postgresql" else sqlite.insert
    values = {"actor": actor, "key": key, "path": path, "body_hash": body_hash, "headers": "{}", "at": now}
    done = session.connection().execute(insert(Idempotency).values(values).on_conflict_do_nothing())
    return None if done.rowcount == 1 else session.get_one(Idempotency, (actor, key))


def keep_answer(session: Session, *, actor: str, key: str, status: int, headers: dict[str, str], body: bytes) -> None:
    """Keep the answer that a claimed key got."""
    kept = session.get_one(Idempotency, (actor, key))
    kept.status, kept.headers, kept.response = status, json.dumps(headers), body
    session.add(kept)


def write_audit(
    session: Session, *, actor: str, action: str, subject: str, now: datetime, detail: dict[str, Any] | None = None
) -> None:
    """Add a line to the audit list."""
    text = json.dumps(detail or {}, ensure_ascii=False)
    session.add(Audit(id=new_id(), at=now, actor=actor, action=action, subject=subject, detail=text))


def meta(session: Session, name: str) -> str | None:
    """A fact about this database."""
    found = session.get(AppMeta, name)
    return None if found is None else found.value


def set_meta(session: Session, name: str, value: str) -> None:
    """Write down a fact about this database."""
    session.merge(AppMeta(name=name, value=value))
