"""kill -9 at any point of issue, accept and publish leaves the old state or the new one, on both databases.

The service of `killed_service.py` answers each request in a child that is killed at one boundary of its writing:
before and after every statement and commit, or at a moment drawn at random. After each kill everything that is kept is
gone through: numbers without gaps or doubles, the order of events, sealed bytes and their hashes, one list in force.
"""

import hashlib
import json
import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from itertools import count
from pathlib import Path
from random import Random
from typing import Any

import httpx
import pytest
from sqlalchemy import Engine, func, select as core_select
from sqlmodel import select

from api.app import create_api
from api.security import create_api_key
from api.settings import Settings
from api.startup import put_demo_firm_in_force
from api.store.engine import make_engine, reading
from models.records import (
    AskAcceptance,
    Audit,
    Counter as CounterRecord,
    DraftBasis,
    Idempotency,
    PriceListRecord,
    Quote,
    QuoteEvent,
    QuoteFile,
    QuotePrices,
    RepricingRun,
    Role,
    RuleSetRecord,
)

API = "/api/v1"
TODAY = date(2026, 3, 2)
NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)
FILES = {("csv", False), *((kind, named) for kind in ("pdf", "ubl") for named in (False, True))}
"""What is rendered at issue: kind, and whether it names the customer."""
NEVER_ISSUED = {"drafted", "withdrawn"}


@dataclass
class Killed:
    """A service whose requests can be killed, and a second look at its database from here."""

    process: "subprocess.Popen[str]"
    engine: Engine
    key: str
    keys: Iterator[int] = field(default_factory=count)

    def ask(self, method: str, path: str, body: Any = None, *, once: str | None = None, **kill: Any) -> dict[str, Any]:
        """One request; `kill_at` or `kill_after_s` says when it is killed."""
        assert self.process.stdin is not None and self.process.stdout is not None
        headers = {"Authorization": f"Bearer {self.key}"} | ({} if once is None else {"Idempotency-Key": once})
        wanted = {"method": method, "path": f"{API}{path}", "json": body, "headers": headers, **kill}
        print(json.dumps(wanted), file=self.process.stdin, flush=True)
        line = self.process.stdout.readline()
        assert line, "the service itself is gone"
        said: dict[str, Any] = json.loads(line)
        return said

    def done(self, method: str, path: str, body: Any = None) -> Any:
        """The body of an answer to a request that nobody kills."""
        answer = self.ask(method, path, body)["answer"]
        assert answer is not None and answer["status"] < 300, answer
        return answer["body"]


@contextmanager
def killable(settings: Settings) -> Iterator[Killed]:
    url = settings.url()
    given = [] if url.startswith("sqlite") else [url]
    environment = os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])}
    script = Path(__file__).with_name("killed_service.py")
    process = subprocess.Popen(
        [sys.executable, str(script), str(settings.data_dir), *given],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=environment,
    )  # fmt: skip
    try:
        assert process.stdout is not None and json.loads(process.stdout.readline()) == "ready"
        engine = make_engine(url)
        key = create_api_key(engine, role=Role.OWNER, label="owner", now=NOW)
        yield Killed(process, engine, key)
        engine.dispose()
    finally:
        process.kill()
        process.wait()
        for pipe in (process.stdin, process.stdout):
            if pipe is not None:
                pipe.close()


@pytest.fixture(scope="module")
def service(new_settings: Callable[..., Settings]) -> Iterator[Killed]:
    with killable(new_settings()) as one:
        yield one


def job_with_survey(service: Killed, household: dict[str, Any]) -> str:
    job = service.done("POST", "/jobs", {"label": "Killed"})["id"]
    service.done("PUT", f"/jobs/{job}/survey", household["survey"])
    return str(job)


def acceptances_of(quote: dict[str, Any]) -> dict[str, Any]:
    asks = [one for one in quote["findings"] if one["strength"] == "ask"]
    return {"accepted": [{"code": a["code"], "where": a["where"], "by": "A. Owner", "reason": "seen"} for a in asks]}


def check_everything(engine: Engine) -> None:
    """What must hold of the whole database whatever was killed whenever."""
    with reading(engine) as session:
        quotes = list(session.exec(select(Quote)))
        events = list(session.exec(select(QuoteEvent).order_by(QuoteEvent.seq)))  # type: ignore[arg-type]
        counters = {one.name: one.value for one in session.exec(select(CounterRecord))}
        prices = {one.quote_id: one for one in session.exec(select(QuotePrices))}
        accepted = Counter(one.quote_id for one in session.exec(select(AskAcceptance)))
        files = {(one.quote_id, one.kind, one.names_party): one for one in session.exec(select(QuoteFile))}
        audits = list(session.exec(select(Audit)))
        lists = list(session.exec(select(PriceListRecord)))
        runs = list(session.exec(select(RepricingRun)))
        claims = list(session.exec(select(Idempotency)))
        bases = {one.quote_id for one in session.exec(select(DraftBasis))}
    # The order of events has no gap and no double, and the counter stands at its end.
    assert [one.seq for one in events] == list(range(1, len(events) + 1))
    assert counters.get("quote_event", 0) == len(events)
    # Numbers: the first quotes of the jobs count up from 1; revisions of each from 2.
    numbers = [one.number for one in quotes if one.number is not None]
    assert len(numbers) == len(set(numbers))
    parsed = [re.fullmatch(r"2026-(\d{4})(?:-(\d+))?", number) for number in numbers]
    firsts = sorted(int(one[1]) for one in parsed if one and one[2] is None)
    assert firsts == list(range(1, len(firsts) + 1)) and counters.get("quote-2026", 0) == len(firsts)
    for first in firsts:
        revisions = sorted(int(one[2]) for one in parsed if one and one[2] and int(one[1]) == first)
        assert revisions == list(range(2, len(revisions) + 2))
    happened: dict[str, list[str]] = {one.id: [] for one in quotes}
    for one in events:
        happened[one.quote_id].append(one.event)
    # Every file of every issued quote is there, whole, and of a draft none is.
    numbered = [quote.id for quote in quotes if quote.number is not None]
    assert set(files) == {(quote_id, *file) for quote_id in numbered for file in FILES}
    assert all(hashlib.sha256(one.body).hexdigest() == one.sha256 for one in files.values())
    with_customer: Counter[str] = Counter()
    for quote in quotes:
        its = happened[quote.id]
        assert its[0] == "drafted" and its[-1] == quote.state, (its, quote.state)
        assert its.count("issued") == (0 if quote.number is None else 1)
        sealed = (quote.document, quote.document_sha256, quote.party_salt, quote.party_hash, quote.issued_at)
        if quote.number is None:
            assert quote.state in NEVER_ISSUED and sealed == (None,) * 5 and quote.valid_until is None
            assert accepted[quote.id] == 0
            continue
        assert None not in sealed and quote.document is not None
        assert hashlib.sha256(quote.document).hexdigest() == quote.document_sha256
        inside = json.loads(quote.document)
        assert (inside["quote"]["number"], inside["price"]["total_pence"]) == (quote.number, quote.total_pence)
        assert inside["quote"]["unit_prices_sha256"] == hashlib.sha256(prices[quote.id].body).hexdigest()
        assert accepted[quote.id] == len(inside["quote"]["accepted"])
        if quote.state in ("issued", "accepted"):
            with_customer[quote.job_id] += 1
    assert all(number == 1 for number in with_customer.values()), "a job has one quote with its customer"
    assert bases <= {one.id for one in quotes}
    # What happened is audited with it.
    told = Counter((one.action, one.subject) for one in audits)
    for quote in quotes:
        for action in ("drafted", "issued", "accepted"):
            assert told[f"quote_{action}", quote.id] == happened[quote.id].count(action)
    # One list in force on each day, and a re-pricing for every list that was published by hand.
    in_force = Counter(one.valid_from for one in lists if one.state == "published")
    assert in_force and max(in_force.values()) == 1
    by_hand = {one.version for one in lists if one.published_at is not None}
    assert {one.reason for one in runs if one.reason.startswith("price list")} == {f"price list {v}" for v in by_hand}
    assert all(told["price_list_published", one.id] == (one.published_at is not None) for one in lists)
    # A key that was claimed has its answer.
    assert all(one.status is not None and one.response for one in claims)


def kills_of(total: int, took_s: float, *, every: bool, chance: Random) -> Iterator[dict[str, Any]]:
    """At every boundary or a few of them, right before and right after the commit, and at random times."""
    numbers = range(1, total + 1)
    yield from ({"kill_at": n} for n in (numbers if every else chance.sample(numbers, 3)))
    yield from ({"kill_at": name} for name in ("commit", "committed"))
    yield from ({"kill_after_s": chance.uniform(0, 3 * took_s)} for _ in range(80 if every else 1))


@dataclass
class Sweep:
    """A request that is killed again and again: how to make what it asks about, what it asks, what it then is."""

    service: Killed
    prepare: Callable[[], tuple[str, Any]]
    is_new: Callable[[str], bool]

    def run(self, *, every: bool, seed: int) -> tuple[int, int]:
        """Kill at boundaries and at random times. Answers how many kills left the old state and how many the new."""
        path, body = self.prepare()
        whole = self.service.ask("POST", path, body, once=f"whole {path}")
        assert whole["answer"]["status"] == 200, whole
        assert self.is_new(path)
        chance, left = Random(seed), Counter[bool]()
        path, body = self.prepare()
        kills = kills_of(whole["boundaries"], whole["took_s"], every=every, chance=chance)
        for number, kill in enumerate(kills):
            if self.is_new(path):
                path, body = self.prepare()
            key = f"{path} {number}"
            said = self.service.ask("POST", path, body, once=key, **kill)
            check_everything(self.service.engine)
            new = self.is_new(path)
            assert new or said["killed"]
            left[new] += said["killed"]
            # Whoever asked and heard nothing asks again with the same key: it happens once, whatever was killed.
            if new or chance.random() < 0.2:
                again = self.service.ask("POST", path, body, once=key)
                assert again["answer"]["status"] == 200, (kill, again)
                assert self.is_new(path)
                check_everything(self.service.engine)
        assert left[False] and left[True], f"kills before and after the commit: {left}"
        return left[False], left[True]


def state_of(service: Killed, path: str) -> str:
    with reading(service.engine) as session:
        return session.get_one(Quote, path.split("/")[2]).state


def issue_sweep(service: Killed, household: dict[str, Any]) -> Sweep:
    job = job_with_survey(service, household)
    turn = count()

    def prepare() -> tuple[str, Any]:
        # The quotes of one job supersede each other; every third belongs to a new one.
        nonlocal job
        if next(turn) % 3 == 2:
            job = job_with_survey(service, household)
        draft = service.done("POST", f"/jobs/{job}/quotes", {})
        return f"/quotes/{draft['id']}/issue", acceptances_of(draft)

    return Sweep(service, prepare, lambda path: state_of(service, path) == "issued")


def accept_sweep(service: Killed, household: dict[str, Any]) -> Sweep:
    def prepare() -> tuple[str, Any]:
        draft = service.done("POST", f"/jobs/{job_with_survey(service, household)}/quotes", {})
        service.done("POST", f"/quotes/{draft['id']}/issue", acceptances_of(draft))
        return f"/quotes/{draft['id']}/accept", {"by": "the customer"}

    return Sweep(service, prepare, lambda path: state_of(service, path) == "accepted")


def publish_sweep(service: Killed) -> Sweep:
    dearer = count(2500)

    def prepare() -> tuple[str, Any]:
        head = service.done("POST", "/price-lists", {})["id"]
        service.done("PUT", f"/price-lists/{head}/lines/UNT-060", {"cost_gbp": str(next(dearer))})
        return f"/price-lists/{head}/publish", {}

    def is_new(path: str) -> bool:
        with reading(service.engine) as session:
            return session.get_one(PriceListRecord, path.split("/")[2]).state != "draft"

    return Sweep(service, prepare, is_new)


def rules_sweep(service: Killed) -> Sweep:
    def prepare() -> tuple[str, Any]:
        head = service.done("POST", "/rule-sets/rates/drafts", {})["id"]
        return f"/rule-sets/rates/drafts/{head}/publish", {}

    def is_new(path: str) -> bool:
        with reading(service.engine) as session:
            published = core_select(func.count()).where(
                RuleSetRecord.kind == "rates", RuleSetRecord.state == "published",  # type: ignore[arg-type]
                RuleSetRecord.valid_from == TODAY,  # type: ignore[arg-type]
            )  # fmt: skip
            assert session.connection().execute(published).scalar_one() <= 1
            return session.get_one(RuleSetRecord, path.split("/")[4]).state != "draft"

    return Sweep(service, prepare, is_new)


SWEEPS = ("issue", "accept", "publish a price list", "publish rates")


def sweep_of(name: str, service: Killed, household: dict[str, Any]) -> Sweep:
    match name:
        case "issue":
            return issue_sweep(service, household)
        case "accept":
            return accept_sweep(service, household)
        case "publish a price list":
            return publish_sweep(service)
    return rules_sweep(service)


@pytest.mark.parametrize("name", SWEEPS)
def test_what_is_killed_leaves_the_old_or_the_new(service: Killed, household: dict[str, Any], name: str) -> None:
    sweep_of(name, service, household).run(every=False, seed=len(name))


@pytest.mark.long
@pytest.mark.parametrize("name", SWEEPS)
def test_killed_at_every_boundary_it_leaves_the_old_or_the_new(
    service: Killed, household: dict[str, Any], name: str, say: Callable[[str], None]
) -> None:
    old, new = sweep_of(name, service, household).run(every=True, seed=len(name))
    say(f"{name}, {service.engine.dialect.name}: {old} kills left the old state, {new} the new one")


def re_price(service: Killed, household: dict[str, Any], *, most: int) -> None:
    """Kill the background at boundaries of its work; it goes on where it stood, and no draft is done twice."""
    service.ask("WORK", "")
    job = job_with_survey(service, household)
    before = [service.done("POST", f"/jobs/{job}/quotes", {}) for _ in range(3)]
    path, body = publish_sweep(service).prepare()
    head = path.removesuffix("/publish")
    service.done("POST", f"{head}/uplifts", {"change_ratio": "0.04", "dry_run": False})
    service.done("POST", path, body)
    chance, kills = Random(most), 0
    for kill_at in [*sorted(chance.sample(range(1, 40), most - 2)), "commit", "committed"]:
        said = service.ask("WORK", "", kill_at=kill_at)
        kills += said["killed"]
        check_everything(service.engine)
        with reading(service.engine) as session:
            run = session.exec(select(RepricingRun).order_by(RepricingRun.id.desc())).first()  # type: ignore[attr-defined]
            stale = session.exec(select(DraftBasis).where(DraftBasis.document_stale)).all()
        mine = {one.quote_id for one in stale} & {one["id"] for one in before}
        assert run is not None and (run.done == run.total if mine else run.done == 0) and len(mine) in (0, 3)
    assert kills >= 2
    assert service.ask("WORK", "")["answer"]["status"] == 200
    last = service.done("GET", "/repricing-runs")["items"][0]
    assert last["state"] == "done" and last["done"] == last["total"] >= 3
    totals = {service.done("GET", f"/quotes/{one['id']}")["total_pence"] for one in before}
    assert len(totals) == 1 and totals.pop() > before[0]["total_pence"]


def test_re_pricing_that_is_killed_goes_on(service: Killed, household: dict[str, Any]) -> None:
    re_price(service, household, most=5)


# --- a real server, killed while many write ---

SERVER = """
import sys
from datetime import UTC, datetime
from pathlib import Path
import uvicorn
from pydantic import SecretStr
from api.app import create_api
from api.settings import Settings
url = SecretStr(sys.argv[2]) if len(sys.argv) > 2 else None
settings = Settings(data_dir=Path(sys.argv[1]), database_url=url, secret_key=SecretStr("a secret that only tests know"),
                    log_level="CRITICAL", fixed_now=datetime(2026, 3, 2, 9, tzinfo=UTC))
uvicorn.run(create_api(settings), port=0, log_level="info", access_log=False)
"""


@contextmanager
def served(settings: Settings, key: str) -> Iterator[tuple[httpx.Client, int]]:
    """A server in a process of its own: a client of it, and its process id."""
    url = settings.url()
    given = [str(settings.data_dir), *([] if url.startswith("sqlite") else [url])]
    environment = os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])}
    server = subprocess.Popen(
        [sys.executable, "-c", SERVER, *given], stderr=subprocess.PIPE, text=True, env=environment
    )
    try:
        assert server.stderr is not None
        said = ""
        while (address := re.search(r"running on (http://\S+)", said)) is None:
            line = server.stderr.readline()
            assert line, said
            said += line
        limits = httpx.Limits(max_connections=40)
        with httpx.Client(
            base_url=f"{address[1]}{API}", headers={"Authorization": f"Bearer {key}"}, timeout=60, limits=limits
        ) as client:
            yield client, server.pid
    finally:
        server.kill()
        server.wait()
        if server.stderr is not None:
            server.stderr.close()


def kill_servers(settings: Settings, household: dict[str, Any], *, kills: int, seed: int) -> None:
    """Ten people draft, issue and accept and one publishes, until two servers on one database are killed; again."""
    engine = make_engine(settings.url())
    prepared = create_api(settings)
    put_demo_firm_in_force(prepared.state.engine, settings, now=NOW)
    key = create_api_key(prepared.state.engine, role=Role.OWNER, label="owner", now=NOW)
    prepared.state.engine.dispose()
    chance = Random(seed)
    answered: dict[str, str] = {}
    for _ in range(kills):
        with served(settings, key) as (one, pid), served(settings, key) as (other, other_pid):

            def live(client: httpx.Client) -> None:
                try:
                    job = client.post("/jobs", json={"label": "Killed"}).json()["id"]
                    client.put(f"/jobs/{job}/survey", json=household["survey"])
                    while True:
                        draft = client.post(f"/jobs/{job}/quotes", json={}).json()
                        issued = client.post(f"/quotes/{draft['id']}/issue", json=acceptances_of(draft))
                        if issued.status_code == 200:
                            answered[draft["id"]] = issued.json()["document_sha256"]
                            if client.post(f"/quotes/{draft['id']}/accept", json={}).status_code == 200:
                                return
                except (httpx.HTTPError, KeyError):
                    return

            def publish(client: httpx.Client) -> None:
                try:
                    for number in range(1000):
                        head = client.post("/price-lists", json={}).json()["id"]
                        client.put(f"/price-lists/{head}/lines/UNT-060", json={"cost_gbp": str(2500 + number)})
                        client.post(f"/price-lists/{head}/publish", json={})
                except (httpx.HTTPError, KeyError):
                    return

            writers = [threading.Thread(target=live, args=(client,)) for client in (one, other) * 5]
            writers.append(threading.Thread(target=publish, args=(one,)))
            for writer in writers:
                writer.start()
            before = len(answered)
            until = time.monotonic() + 40
            while len(answered) < before + 2 and time.monotonic() < until:
                time.sleep(0.01)
            time.sleep(chance.uniform(0, 0.5))
            for process in (pid, other_pid):
                os.kill(process, signal.SIGKILL)
            for writer in writers:
                writer.join()
        check_everything(engine)
    assert len(answered) >= 2 * kills
    with reading(engine) as session:
        for quote_id, sha256 in answered.items():
            assert session.get_one(Quote, quote_id).document_sha256 == sha256, "what was answered is kept"
    # A new process goes on where the others were killed: the re-pricing of what was published, and the next number.
    with served(settings, key) as (client, _):
        until = time.monotonic() + 60
        while any(run["state"] != "done" for run in client.get("/repricing-runs").json()["items"]):
            assert time.monotonic() < until, "re-pricing is resumed"
            time.sleep(0.05)
        job = client.post("/jobs", json={"label": "After"}).json()["id"]
        client.put(f"/jobs/{job}/survey", json=household["survey"])
        draft = client.post(f"/jobs/{job}/quotes", json={}).json()
        assert client.post(f"/quotes/{draft['id']}/issue", json=acceptances_of(draft)).status_code == 200
    check_everything(engine)
    engine.dispose()


def test_two_servers_that_end_abruptly_lose_nothing(
    new_settings: Callable[..., Settings], household: dict[str, Any]
) -> None:
    kill_servers(new_settings(), household, kills=1, seed=1)


@pytest.mark.long
def test_two_servers_that_end_abruptly_again_and_again(
    new_settings: Callable[..., Settings], household: dict[str, Any]
) -> None:
    kill_servers(new_settings(), household, kills=15, seed=2)
