"""What happens before serving: tables, price list, the secret of a demo, demo users and households."""

import hmac
import logging
import os
import secrets
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from pydantic import SecretStr
from sqlalchemy import Engine
from sqlmodel import select

from api import security
from api.deps import day_of, now_of
from api.ids import new_id
from api.services.repricing import Background
from api.services.rules import RulesBook
from api.services.surveys import replace_survey
from api.settings import Settings
from api.store import jobs, office, people, prices, rule_sets
from api.store.engine import make_engine, reading, writing
from api.store.migrate import migrate
from api.store.seed_files import FIRM, NO_FIRM, SEED_FOLDER, contents_of_folder
from models.records import Role, UserRecord

_log = logging.getLogger("footing.startup")
DEMO_USER = "demo"


def prepare(settings: Settings, book: RulesBook) -> Engine:
    """An engine on a database with the newest tables and the firm's price list in it."""
    engine = make_engine(settings.url())
    migrate(engine)
    with writing(engine) as session:
        given = book.of_files().price_list
        contents = {kind: content for kind, content in book.contents_of_files().items() if content != NO_FIRM}
        rule_sets.seed_rule_sets(session, contents, valid_from=given.valid_from)
        list_id = prices.seed_price_list(session, given)
        if prices.load_price_list(session, list_id).lines != given.lines:
            _log.warning(
                "the price list file was changed but not its version; the published list stands",
                extra={"version": given.version},
            )
    return engine


def repricing_of(settings: Settings, engine: Engine, book: RulesBook) -> Background:
    """The thread that re-prices drafts, by the clock of the settings. Not yet started."""

    def now() -> datetime:
        return now_of(settings)

    return Background(engine, book, now=now, today=lambda: day_of(settings, now()))


def with_local_secret(settings: Settings) -> Settings:
    """The settings with a secret key: the given one, or one made once and kept in the data folder (demo only)."""
    if settings.secret_key is not None:
        return settings
    file = Path(settings.data_dir) / "secret.key"
    file.parent.mkdir(parents=True, exist_ok=True)
    if not file.exists():
        handle = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w") as out:
            out.write(secrets.token_urlsafe(32))
    return settings.model_copy(update={"secret_key": SecretStr(file.read_text().strip())})


@dataclass(frozen=True, slots=True)
class Demo:
    """What a demo prints: a one-time sign-in token and a key. `new_jobs` counts the households just loaded."""

    signin_token: str
    api_key: str
    new_jobs: int


def load_demo(engine: Engine, settings: Settings, households: list[dict[str, Any]], *, now: datetime) -> Demo:
    """A demo owner, a demo key and the invented households as jobs; a second time keeps what is there."""
    with reading(engine) as session:
        user = people.user_by_name(session, DEMO_USER)
    if user is None:
        user = security.create_user(
            engine, name=DEMO_USER, full_name="Demo Owner", role=Role.OWNER, password=None, now=now
        )
    key = _demo_key(settings)
    security.create_api_key(engine, role=Role.OWNER, label="demo", now=now, key=key)
    new_jobs = 0
    with writing(engine) as session:
        if office.meta(session, "demo_loaded") is None:
            for household in households:
                survey = household["survey"]
                party = jobs.new_party(name="Demo customer", address=survey["house"]["place"], contact="")
                job = jobs.add_job(
                    session, job_id=new_id(), label=survey["label"], party=party, owner=f"user:{user.id}", now=now
                )
                replace_survey(session, job, survey, if_match=None, now=now)
                new_jobs += 1
            office.set_meta(session, "demo_loaded", now.isoformat())
    put_demo_firm_in_force(engine, settings, now=now)
    token = security.create_signin_link(engine, settings, user.id, now=now)
    return Demo(token, key, new_jobs)


def put_demo_firm_in_force(engine: Engine, settings: Settings, *, now: datetime) -> None:
    """Publish the invented firm of the files, where no firm's record is in force yet."""
    content = contents_of_folder(settings.seed_dir or SEED_FOLDER)[FIRM]
    today = day_of(settings, now)
    with writing(engine) as session:
        if content != NO_FIRM and FIRM not in rule_sets.in_force(session, today):
            valid_from = prices.first_day(session) or today
            rule_sets.seed_rule_sets(session, {FIRM: content}, valid_from=valid_from)


def _demo_key(settings: Settings) -> str:
    """The given demo key, or one that follows from the secret, so that a second start prints the same."""
    if settings.demo_key is not None:
        return settings.demo_key.get_secret_value()
    digest = hmac.new(settings.required_secret(), b"demo key", "sha256").hexdigest()
    return f"{security.KEY_PREFIX}demo_{digest[:32]}"


def first_owner(engine: Engine, settings: Settings, *, now: datetime) -> str | None:
    """A sign-in token for a first owner of an empty installation; None once there is any user."""
    with reading(engine) as session:
        anyone = session.exec(select(UserRecord.id).limit(1)).first()
    if anyone is not None:
        return None
    user = security.create_user(engine, name="owner", full_name="Owner", role=Role.OWNER, password=None, now=now)
    return security.create_signin_link(engine, settings, user.id, now=now)
