"""A service that is killed loses nothing that it answered: issued quotes, and saves in the middle of many."""

import hashlib
import json
import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx

from api.store import quotes, surveys
from api.store.counters import take_number
from api.store.engine import make_engine, reading

KEY = "fk_only_for_this_test"
SERVER = f"""
import sys
from datetime import UTC, datetime
from pathlib import Path
import uvicorn
from pydantic import SecretStr
from api.app import create_api
from api.security import create_api_key
from api.settings import Settings
from api.startup import put_demo_firm_in_force
from models.records import Role
now = datetime(2026, 3, 2, 9, tzinfo=UTC)
settings = Settings(data_dir=Path(sys.argv[1]), database_url=None, secret_key=SecretStr("only for this test"),
                    log_level="ERROR", fixed_now=now)
app = create_api(settings)
put_demo_firm_in_force(app.state.engine, settings, now=now)
create_api_key(app.state.engine, role=Role.OWNER, label="t", now=now, key={KEY!r})
uvicorn.run(app, port=0, log_level="info", access_log=False)
"""


@contextmanager
def served(folder: Path) -> Iterator[tuple[httpx.Client, int]]:
    """A service in a process of its own on the data in `folder`: a client of it, and the process."""
    environment = os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])}
    server = subprocess.Popen(
        [sys.executable, "-c", SERVER, str(folder)], stderr=subprocess.PIPE, text=True, env=environment
    )
    said = ""
    try:
        assert server.stderr is not None
        address = None
        while address is None:
            line = server.stderr.readline()
            assert line, said
            said += line
            address = re.search(r"running on (http://\S+)", line)
        headers = {"Authorization": f"Bearer {KEY}"}
        with httpx.Client(base_url=f"{address[1]}/api/v1", headers=headers, timeout=30) as client:
            yield client, server.pid
    finally:
        server.kill()
        server.wait()
        if server.stderr is not None:
            server.stderr.close()


def test_a_kill_in_the_middle_of_many_saves_loses_nothing_that_was_answered(
    tmp_path: Path, household: dict[str, Any]
) -> None:
    answered: list[dict[str, Any]] = []

    def save(client: httpx.Client, job_id: str, phone: int) -> None:
        for number in range(10_000):
            room = {"id": f"{phone}-{number}", "name": f"Room {phone}.{number}"}
            try:
                answer = client.put(f"/jobs/{job_id}/survey/rooms/{room['id']}", json=room)
            except httpx.HTTPError:
                return
            assert answer.status_code == 201
            answered.append(room)

    with served(tmp_path) as (client, process):
        quoted, surveyed = (client.post("/jobs", json={"label": "Killed"}).json()["id"] for _ in range(2))
        client.put(f"/jobs/{quoted}/survey", json=household["survey"])
        draft = client.post(f"/jobs/{quoted}/quotes", json={}).json()
        asks = [one for one in draft["findings"] if one["strength"] == "ask"]
        accepted = [{"code": one["code"], "where": one["where"], "by": "A. Owner", "reason": "seen"} for one in asks]
        phones = [threading.Thread(target=save, args=(client, surveyed, phone)) for phone in range(4)]
        for phone in phones:
            phone.start()
        until = time.monotonic() + 60
        while len(answered) < 40 and time.monotonic() < until:
            time.sleep(0.01)
        issued = client.post(f"/quotes/{draft['id']}/issue", json={"accepted": accepted})
        os.kill(process, signal.SIGKILL)
        for phone in phones:
            phone.join()
    assert issued.status_code == 200
    assert len(answered) >= 40

    engine = make_engine(f"sqlite:///{tmp_path / 'footing.sqlite3'}")
    with reading(engine) as session:
        kept = [json.loads(part.body) for part in surveys.parts(session, surveyed, "room")]
        found = quotes.quote_by_id(session, draft["id"], only_owner=None)
        events = [(event.seq, event.event) for event in quotes.events_of(session, draft["id"])]
        following = take_number(session, "quote-2026")
    engine.dispose()
    assert all(room in kept for room in answered)
    assert len(kept) - len(answered) <= 4, "at most what was under way when it was killed"
    assert found is not None
    quote = found[0]
    assert (quote.state, quote.number, following) == ("issued", "2026-0001", 2)
    assert quote.document is not None
    assert hashlib.sha256(quote.document).hexdigest() == issued.json()["document_sha256"]
    assert events == [(1, "drafted"), (2, "issued")]
