"""Queries about jobs and their parties."""

from datetime import datetime

from sqlmodel import Session, col, func, or_, select

from api.errors import conflict
from api.ids import new_id
from api.store.counters import take_number
from models.records import Job, Party, SurveyHeader

MOST_WORDS = 5


def add_job(session: Session, *, job_id: str, label: str, party: Party, owner: str, now: datetime) -> Job:
    """A new job with its party and an empty survey. Its number is the next one."""
    session.add(party)
    session.flush()
    job = Job(
        id=job_id, number=take_number(session, "job"), label=label, party_id=party.id, owner=owner, created_at=now
    )
    session.add(job)
    session.flush()
    session.add(SurveyHeader(job_id=job_id, updated_at=now))
    session.flush()
    return job


def new_party(*, name: str, address: str, contact: str) -> Party:
    """A party that is not kept yet."""
    return Party(id=new_id(), name=name, address=address, contact=contact)


def job_by_id(session: Session, job_id: str, *, only_owner: str | None, lock: bool = False) -> Job | None:
    """A job, unless it belongs to someone else while only those of `only_owner` may be seen."""
    query = select(Job).where(Job.id == job_id)
    if only_owner is not None:
        query = query.where(Job.owner == only_owner)
    return session.exec(query.with_for_update() if lock else query).first()


def jobs_before(
    session: Session, *, number: int | None, only_owner: str | None, limit: int, search: str = ""
) -> list[Job]:
    """Jobs, the newest first, with numbers below `number`.

    With `search` only those that hold each of its words in their label or in their customer's name, or have it for
    their number.
    """
    query = select(Job)
    words = search.lower().split()[:MOST_WORDS]
    if words:
        query = query.join(Party, col(Party.id) == col(Job.party_id))
    for word in words:
        found = [func.lower(one).contains(word, autoescape=True) for one in (col(Job.label), col(Party.name))]
        if word.isdecimal() and len(word) < 10:
            found.append(col(Job.number) == int(word))
        query = query.where(or_(*found))
    if only_owner is not None:
        query = query.where(Job.owner == only_owner)
    if number is not None:
        query = query.where(col(Job.number) < number)
    return list(session.exec(query.order_by(col(Job.number).desc()).limit(limit)))


def refuse_change_of_erased(party: Party) -> None:
    """Raise a 409 problem where somebody would write a name into a party that was erased."""
    if party.erased_at is not None:
        raise conflict("this customer was erased; start another job for a new customer")


def party_of(session: Session, job: Job) -> Party:
    """Whose house it is."""
    return session.get_one(Party, job.party_id)
