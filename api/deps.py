"""What routes ask for by type: settings, clock, sessions, the actor, answers that may be asked for twice."""

import hashlib
import inspect
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import lru_cache, wraps
from typing import Annotated, Any, TypeVar, cast
from zoneinfo import ZoneInfo

from fastapi import Depends, Header, Request, Response
from sqlalchemy import Engine
from sqlmodel import Session

from api import security
from api.body import OptionalJson, RawJson
from api.errors import Problem, conflict
from api.security import SAFE_METHODS as SAFE_METHODS, SESSION_COOKIE, Actor
from api.services.rules import RulesBook
from api.settings import Settings
from api.store import office
from api.store.engine import reading, writing

_KEPT_HEADERS = ("location", "etag", "content-type")


def settings_of(request: Request) -> Settings:
    """The settings of this process."""
    settings: Settings = request.app.state.settings
    return settings


def engine_of(request: Request) -> Engine:
    """The database."""
    engine: Engine = request.app.state.engine
    return engine


def rules_book_of(request: Request) -> RulesBook:
    """The rules by version."""
    book: RulesBook = request.app.state.rules_book
    return book


SettingsDep = Annotated[Settings, Depends(settings_of)]
EngineDep = Annotated[Engine, Depends(engine_of)]
RulesBookDep = Annotated[RulesBook, Depends(rules_book_of)]


def now_of(settings: SettingsDep) -> datetime:
    """The moment, in UTC; settings may stop the clock."""
    return settings.fixed_now.astimezone(UTC) if settings.fixed_now is not None else datetime.now(UTC)


@lru_cache(maxsize=4)
def _zone(name: str) -> ZoneInfo:
    return ZoneInfo(name)


def day_of(settings: Settings, now: datetime) -> date:
    """The day that a moment is in, where the firm is."""
    return now.astimezone(_zone(settings.timezone)).date()


Now = Annotated[datetime, Depends(now_of)]


def today_of(settings: SettingsDep, now: Now) -> date:
    """The day of the firm."""
    return day_of(settings, now)


Today = Annotated[date, Depends(today_of)]


def read_session(engine: EngineDep) -> Iterator[Session]:
    """A session that changes nothing."""
    with reading(engine) as session:
        yield session


def write_session(engine: EngineDep) -> Iterator[Session]:
    """A session in one transaction. It is committed before the response goes out, or rolled back."""
    with writing(engine) as session:
        yield session


ReadSession = Annotated[Session, Depends(read_session, scope="function")]
WriteSession = Annotated[Session, Depends(write_session, scope="function")]


def actor_of_request(request: Request) -> Actor | None:
    """Who asks, by bearer key or session cookie; None when nobody is recognised."""
    scheme, _, key = request.headers.get("authorization", "").partition(" ")
    if scheme:
        return security.actor_of_key(engine_of(request), key.strip()) if scheme.lower() == "bearer" else None
    token = request.cookies.get(SESSION_COOKIE)
    if not token:
        return None
    settings = settings_of(request)
    return security.actor_of_session(engine_of(request), settings, token, now=now_of(settings))


def current_actor(request: Request) -> Actor:
    """Who asks. Raises 401; 403 for a changing request of a browser session without its X-CSRF-Token.

    A role that only reads gets 403 for everything that would be written down, whatever the route.
    """
    actor = actor_of_request(request)
    if actor is None:
        detail = "send Authorization: Bearer with a key that is in use, or sign in"
        raise Problem(401, "not_signed_in", detail, headers={"WWW-Authenticate": "Bearer"})
    if actor.csrf is not None and request.method not in SAFE_METHODS:
        security.check_form_token(actor, request.headers.get("x-csrf-token"))
    security.require_write(actor, method=request.method, path=request.url.path)
    request.state.actor_id = actor.id
    return actor


CurrentActor = Annotated[Actor, Depends(current_actor)]
IdempotencyKey = Annotated[
    str | None,
    Header(
        alias="Idempotency-Key",
        min_length=1,
        max_length=200,
        description="The same key and body get the same answer; the same key with another request gets 409.",
    ),
]


@dataclass(frozen=True, slots=True)
class Once:
    """Makes an answer once for a key and gives the kept one ever after, in the transaction of the effect itself."""

    session: Session
    actor: Actor
    key: str | None
    path: str
    body_hash: str
    now: datetime

    def answer(self, make: Callable[[], Response]) -> Response:
        """The answer that `make` gives, or the kept one. Raises 409 when the key was used for another request."""
        if self.key is None:
            return make()
        known = office.claim_key(
            self.session, actor=self.actor.id, key=self.key, path=self.path, body_hash=self.body_hash, now=self.now
        )
        if known is not None:
            if (known.path, known.body_hash) != (self.path, self.body_hash):
                raise conflict(
                    "this Idempotency-Key was used for another request; take a new one", "key_used_for_another_request"
                )
            # A claim without an answer stands where the request was refused but left a mark: a quote that lapsed.
            if known.status is not None:
                return Response(known.response, known.status, json.loads(known.headers))
        response = make()
        headers = {name: response.headers[name] for name in _KEPT_HEADERS if name in response.headers}
        office.keep_answer(
            self.session,
            actor=self.actor.id,
            key=self.key,
            status=response.status_code,
            headers=headers,
            body=bytes(response.body),
        )
        return response


def once(
    request: Request, actor: CurrentActor, raw: RawJson, session: WriteSession, now: Now, key: IdempotencyKey = None
) -> Once:
    """The keeper of answers for this request."""
    path = f"{request.method} {request.url.path}"
    return Once(session, actor, key, path, hashlib.sha256(raw).hexdigest(), now)


OnceDep = Annotated[Once, Depends(once, scope="function")]


def once_without_body(
    request: Request, actor: CurrentActor, raw: OptionalJson, session: WriteSession, now: Now,
    key: IdempotencyKey = None,
) -> Once:  # fmt: skip
    """The keeper of answers for a request that needs no body."""
    return once(request, actor, raw, session, now, key)


OnceBareDep = Annotated[Once, Depends(once_without_body, scope="function")]


def once_for_address(
    request: Request, actor: CurrentActor, session: WriteSession, now: Now, key: IdempotencyKey = None
) -> Once:
    """The keeper of answers for a request that has no body at all."""
    return Once(session, actor, key, f"{request.method} {request.url.path}", hashlib.sha256(b"").hexdigest(), now)


OnceNoBodyDep = Annotated[Once, Depends(once_for_address, scope="function")]
RouteT = TypeVar("RouteT", bound=Callable[..., Response])


def kept(route: RouteT) -> RouteT:
    """A route whose answer is kept for an Idempotency-Key, so that a retry whose answer was lost gets it again.

    Written under the decorator of the router. What guards against another's change stays: without a key, or with a
    new one, If-Match is asked for as ever.
    """
    signature = inspect.signature(route)
    keeper = OnceDep if "raw" in signature.parameters else OnceNoBodyDep
    asked = inspect.Parameter("keeper", inspect.Parameter.KEYWORD_ONLY, annotation=keeper)

    @wraps(route)
    def answered(*, keeper: Once, **given: Any) -> Response:
        return keeper.answer(lambda: route(**given))

    answered.__signature__ = signature.replace(parameters=[*signature.parameters.values(), asked])  # type: ignore[attr-defined]
    return cast(RouteT, answered)


IfMatch = Annotated[
    str | None,
    Header(alias="If-Match", description="The ETag of the version that is being replaced; 412 when it is another."),
]
IfNoneMatch = Annotated[
    str | None, Header(alias="If-None-Match", description="* to create only; 412 when there is one already.")
]
