"""Numbers without gaps: taken under a lock that the transaction holds to its end."""

from sqlalchemy import update
from sqlalchemy.dialects import postgresql, sqlite
from sqlmodel import Session, col

from models.records import Counter


def take_number(session: Session, name: str) -> int:
    """The next number of a counter, from 1. Others wait until this transaction ends; rolled back, it is free again."""
    connection = session.connection()
    step = update(Counter).where(col(Counter.name) == name).values(value=col(Counter.value) + 1).returning(
        col(Counter.value)
    )
    taken = connection.execute(step).scalar_one_or_none()
    if taken is None:
        insert = postgresql.insert if connection.dialect.name == "postgresql" else sqlite.insert
        connection.execute(insert(Counter).values(name=name, value=0).on_conflict_do_nothing())
        taken = connection.execute(step).scalar_one()
    return int(taken)
