"""Sets a database up: tables and the firm's price list; for the demo also invented houses, users and a key."""

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from pydantic import SecretStr
from sqlalchemy import Engine

from api import security
from api.ids import new_id
from api.services.surveys import replace_survey
from api.settings import Settings
from api.store import jobs, office, people, prices
from api.store.engine import make_engine, reading, writing
from api.store.migrate import migrate
from api.store.seed_files import SEED_FOLDER, demo_households, rules_from_folder
from models.records import ApiKey, Role

DEMO_USERS = (
    ("owner", "Demo owner", Role.OWNER),
    ("office", "Demo office", Role.OFFICE),
    ("sales", "Demo sales", Role.SALES),
)
DEMO_CUSTOMERS = (
    ("Household of Alder Row (invented)", "3 Alder Row, Made Magna"),
    ("Household of Thornlea (invented)", "Thornlea, Back Lane, Made Parva"),
    ("Household of Weir Cottages (invented)", "2 Weir Cottages, Madewater"),
)
SECRET_FILE = "secret.key"


@dataclass(frozen=True, slots=True)
class Demo:
    """What the start of a demo prints: a link that signs in once, and the key where it may be shown."""

    link_token: str
    key: str | None


def with_secret(settings: Settings) -> Settings:
    """The settings with a secret: that of the environment, or one that the data folder keeps for its own demo."""
    if settings.secret_key is not None:
        settings.required_secret()
        return settings
    settings.data_dir.mkdir(parents=True, exist_ok=True)
    path = settings.data_dir / SECRET_FILE
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        secret = path.read_text("ascii").strip()
    else:
        secret = secrets.token_urlsafe(32)
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(secret)
    return settings.model_copy(update={"secret_key": SecretStr(secret)})


def prepare(settings: Settings) -> None:
    """Bring the tables up to date and publish the price list of the firm's files, if it is not there yet."""
    with _engine(settings) as engine:
        _prepare(engine, settings)


def _prepare(engine: Engine, settings: Settings) -> None:
    migrate(engine)
    with writing(engine) as session:
        prices.seed_price_list(session, rules_from_folder(_seed_folder(settings)).price_list)


def _seed_folder(settings: Settings) -> Path:
    return settings.seed_dir or SEED_FOLDER


@contextmanager
def _engine(settings: Settings) -> Iterator[Engine]:
    engine = make_engine(settings.url())
    try:
        yield engine
    finally:
        engine.dispose()


def _now(settings: Settings) -> datetime:
    return settings.fixed_now.astimezone(UTC) if settings.fixed_now is not None else datetime.now(UTC)


def first_owner(settings: Settings) -> str | None:
    """Where there is no owner yet: make one, and answer the token of a link that signs them in once."""
    now = _now(settings)
    with _engine(settings) as engine:
        with reading(engine) as session:
            if people.user_by_name(session, "owner") is not None:
                return None
        owner = security.create_user(engine, name="owner", full_name="Owner", role=Role.OWNER, password=None, now=now)
        return security.create_signin_link(engine, settings, owner.id, now=now)


def load_demo(settings: Settings) -> Demo:
    """Everything a demo needs, made once; later starts only make a fresh link."""
    now = _now(settings)
    with _engine(settings) as engine:
        _prepare(engine, settings)
        owner_id = _users(engine, now)
        _houses(engine, settings, owner_id, now)
        key = _key(engine, settings, now)
        return Demo(security.create_signin_link(engine, settings, owner_id, now=now), key)


def _users(engine: Engine, now: datetime) -> str:
    ids = []
    for name, full_name, role in DEMO_USERS:
        with reading(engine) as session:
            user = people.user_by_name(session, name)
            known = None if user is None else user.id
        if known is None:
            made = security.create_user(engine, name=name, full_name=full_name, role=role, password=None, now=now)
            known = made.id
        ids.append(known)
    return ids[0]


def _houses(engine: Engine, settings: Settings, owner_id: str, now: datetime) -> None:
    with writing(engine) as session:
        if office.meta(session, "demo_houses") is not None:
            return
        for household, (name, address) in zip(demo_households(_seed_folder(settings)), DEMO_CUSTOMERS, strict=True):
            survey = household["survey"]
            party = jobs.new_party(name=name, address=address, contact="")
            job = jobs.add_job(
                session, job_id=new_id(), label=survey["label"], party=party, owner=f"user:{owner_id}", now=now
            )
            replace_survey(session, job, survey, if_match=None, now=now)
        office.set_meta(session, "demo_houses", now.isoformat())


def _key(engine: Engine, settings: Settings, now: datetime) -> str | None:
    """The demo's key: the one that the settings give, or one made at the first start and never shown again."""
    given = settings.demo_key.get_secret_value() if settings.demo_key is not None else ""
    if given:
        if len(given) < 8:
            raise ValueError("FOOTING_DEMO_KEY needs at least 8 characters")
        with writing(engine) as session:
            if people.api_key_by_hash(session, security.key_hash(given)) is None:
                session.add(
                    ApiKey(
                        id=new_id(), prefix=given[:4], key_hash=security.key_hash(given), role=Role.OWNER,
                        label="demo", created_at=now,
                    )
                )  # fmt: skip
        return given
    with writing(engine) as session:
        if office.meta(session, "demo_key") is not None:
            return None
        office.set_meta(session, "demo_key", now.isoformat())
    return security.create_api_key(engine, role=Role.OWNER, label="demo", now=now)
