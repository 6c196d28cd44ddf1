"""Queries about kept answers, the audit list and facts about the database."""

import json
from datetime import datetime
from typing import Any

from sqlalchemy.dialects import postgresql, sqlite
from sqlmodel import Session, col, select

from api.ids import new_id
from api.logs import client_address
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
    session: Session,
    *,
    actor: str,
    action: str,
    subject: str,
    now: datetime,
    detail: dict[str, Any] | None = None,
    old: Any = None,
    new: Any = None,
    why: str = "",
) -> None:
    """Add a line to the audit list: who, when, what, what stood and stands there, why; where from is known already.

    No name or address of a customer goes into it, since it can never be taken out again.
    """
    session.add(
        Audit(
            id=new_id(),
            at=now,
            actor=actor,
            action=action,
            subject=subject,
            detail=json.dumps(detail or {}, ensure_ascii=False),
            old=json.dumps(old, ensure_ascii=False),
            new=json.dumps(new, ensure_ascii=False),
            why=why,
            client=client_address.get(),
        )
    )


def audit_before(
    session: Session, *, before: str | None, actor: str | None, subject: str | None, action: str | None, limit: int
) -> list[Audit]:
    """Lines of the audit list, the newest first, with ids before one; ids stand in the order of time."""
    query = select(Audit)
    if before is not None:
        query = query.where(col(Audit.id) < before)
    for column, wanted in ((Audit.actor, actor), (Audit.subject, subject), (Audit.action, action)):
        if wanted is not None:
            query = query.where(col(column) == wanted)
    return list(session.exec(query.order_by(col(Audit.id).desc()).limit(limit)))


def meta(session: Session, name: str) -> str | None:
    """A fact about this database."""
    found = session.get(AppMeta, name)
    return None if found is None else found.value


def set_meta(session: Session, name: str, value: str) -> None:
    """Write down a fact about this database."""
    session.merge(AppMeta(name=name, value=value))
