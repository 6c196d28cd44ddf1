"""Rule sets as rows: seeded from the firm's files, versioned, one of each kind in force at a date."""

import hashlib
import json
from datetime import date, datetime

from sqlalchemy import select as core_select
from sqlmodel import Session, col, select

from api.ids import new_id
from api.store.counters import take_number
from api.store.seed_files import TABLES_OF_KIND, Content
from models.records import RuleSetRecord

DRAFT, PUBLISHED, RETIRED = "draft", "published", "retired"
KINDS = tuple(TABLES_OF_KIND)
_SETS = RuleSetRecord.__table__  # type: ignore[attr-defined]


def canonical(content: Content) -> str:
    """The one text of a content: keys in order, nothing between them."""
    return json.dumps(content, ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def digest_of(text: str) -> str:
    """SHA-256 of a canonical text."""
    return hashlib.sha256(text.encode()).hexdigest()


def in_force(session: Session, on: date) -> dict[str, tuple[str, str, str]]:
    """By kind the id, version and digest of the set in force on a day; a kind without one is left out."""
    query = (
        core_select(_SETS.c.kind, _SETS.c.id, _SETS.c.version, _SETS.c.sha256)
        .where(_SETS.c.state == PUBLISHED, _SETS.c.valid_from <= on)
        .order_by(_SETS.c.valid_from, _SETS.c.id)
    )
    return {row[0]: (row[1], row[2], row[3]) for row in session.connection().execute(query)}


def first_days_after(session: Session, on: date) -> set[date]:
    """The first days after a day on which another set comes into force."""
    query = core_select(_SETS.c.valid_from).where(_SETS.c.state == PUBLISHED, _SETS.c.valid_from > on)
    return set(session.connection().execute(query).scalars())


def content_of(session: Session, set_id: str) -> Content:
    """The content of a set."""
    content: Content = json.loads(session.get_one(RuleSetRecord, set_id).content)
    return content


def rule_set(session: Session, kind: str, set_id: str, *, lock: bool = False) -> RuleSetRecord | None:
    """One set of a kind."""
    found = session.get(RuleSetRecord, set_id, with_for_update=lock or None)
    return found if found is not None and found.kind == kind else None


def sets_of(session: Session, kind: str, *, limit: int = 200) -> list[RuleSetRecord]:
    """The sets of a kind, the newest first."""
    query = select(RuleSetRecord).where(RuleSetRecord.kind == kind).order_by(col(RuleSetRecord.id).desc())
    return list(session.exec(query.limit(limit)))


def published_before(session: Session, head: RuleSetRecord) -> RuleSetRecord | None:
    """The set of the same kind that was in force before this one came."""
    return session.exec(
        select(RuleSetRecord)
        .where(
            RuleSetRecord.kind == head.kind,
            col(RuleSetRecord.state).in_((PUBLISHED, RETIRED)),
            (col(RuleSetRecord.valid_from) < head.valid_from)
            | ((col(RuleSetRecord.valid_from) == head.valid_from) & (col(RuleSetRecord.id) < head.id)),
        )
        .order_by(col(RuleSetRecord.valid_from).desc(), col(RuleSetRecord.id).desc())
        .limit(1)
    ).first()


def published_on_day(session: Session, kind: str, day: date) -> list[RuleSetRecord]:
    """The published sets of a kind whose first day this is."""
    return list(
        session.exec(
            select(RuleSetRecord).where(
                RuleSetRecord.kind == kind, RuleSetRecord.state == PUBLISHED, RuleSetRecord.valid_from == day
            )
        )
    )


def new_draft(
    session: Session, kind: str, content: Content, *, based_on: str | None, valid_from: date, by: str, now: datetime
) -> RuleSetRecord:
    """A draft of a kind under the next number."""
    text = canonical(content)
    head = RuleSetRecord(
        id=new_id(),
        kind=kind,
        version=f"{kind}-{take_number(session, f'rule_set_{kind}'):04d}",
        state=DRAFT,
        valid_from=valid_from,
        content=text,
        sha256=digest_of(text),
        based_on=based_on,
        made_at=now,
        made_by=by,
    )
    session.add(head)
    session.flush()
    return head


def seed_rule_sets(session: Session, contents: dict[str, Content], *, valid_from: date) -> None:
    """Publish the content of the firm's files, each kind unless this very content was published before."""
    for kind, content in contents.items():
        text = canonical(content)
        digest = digest_of(text)
        version = f"{kind}-seed-{digest[:12]}"
        known = session.exec(select(RuleSetRecord.id).where(RuleSetRecord.version == version)).first()
        if known is None:
            session.add(
                RuleSetRecord(
                    id=new_id(), kind=kind, version=version, state=PUBLISHED, valid_from=valid_from, content=text,
                    sha256=digest,
                )
            )  # fmt: skip
            session.flush()
