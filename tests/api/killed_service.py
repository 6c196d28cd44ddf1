"""A service that can be killed at any point of a request: `python killed_service.py FOLDER [DATABASE_URL]`.

It reads one request a line from its input. One that is to be killed is answered by a child that opens the database for
itself. The child kills itself (SIGKILL, as `kill -9` does) at the n-th boundary: before and after each statement,
before and after each commit (also by name: commit, committed); or the parent kills it after a time. One line comes
back: whether it was killed, what it answered if it came so far, how many boundaries there were and how long it took.
"""

import json
import os
import signal
import sys
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pydantic import SecretStr
from sqlalchemy import Engine, event
from sqlmodel import Session
from starlette.testclient import TestClient

from api.app import create_api
from api.services.repricing import work_off
from api.settings import Settings
from api.startup import put_demo_firm_in_force

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)


class Boundaries:
    """Counts the boundaries that a request passes, and ends the process at one of them."""

    def __init__(self) -> None:
        self.kill_at: int | str | None = None
        self.passed = 0
        for name in ("before_cursor_execute", "after_cursor_execute"):
            event.listen(Engine, name, lambda *_: self.reached("statement"))
        event.listen(Engine, "commit", lambda *_: self.reached("commit"))
        event.listen(Session, "after_commit", lambda *_: self.reached("committed"))

    def reached(self, what: str) -> None:
        """One more boundary; the end of the process if it is the one that is meant, by number or by name."""
        self.passed += 1
        if self.kill_at in (self.passed, what):
            os.kill(os.getpid(), signal.SIGKILL)


def answer_of(app: Any, wanted: dict[str, Any]) -> dict[str, Any]:
    """The answer to a request, or what the background does when the method is WORK."""
    if wanted["method"] == "WORK":
        its = app.state
        work_off(its.engine, its.rules_book, now=lambda: NOW, today=lambda: NOW.date())
        return {"status": 200, "body": None}
    client = TestClient(app, raise_server_exceptions=False, headers=wanted["headers"])
    answer = client.request(wanted["method"], wanted["path"], json=wanted["json"])
    return {"status": answer.status_code, "body": answer.json() if answer.content else None}


def in_a_child(app: Any, wanted: dict[str, Any], boundaries: Boundaries) -> dict[str, Any]:
    """Answer a request in a child of this process and say how the child ended."""
    # No connection may be shared with a child.
    app.state.engine.dispose()
    readable, writable = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(readable)
        boundaries.kill_at = wanted.get("kill_at")
        answer = answer_of(app, wanted)
        told = json.dumps({"answer": answer, "boundaries": boundaries.passed}).encode()
        with os.fdopen(writable, "wb") as out:
            out.write(told)
        os._exit(0)
    os.close(writable)
    if wanted.get("kill_after_s") is not None:
        time.sleep(wanted["kill_after_s"])
        os.kill(child, signal.SIGKILL)
    with os.fdopen(readable, "rb") as lines:
        said = lines.read()
    _, ended = os.waitpid(child, 0)
    killed = os.WIFSIGNALED(ended) and os.WTERMSIG(ended) == signal.SIGKILL
    told = json.loads(said) if said and not killed else {"answer": None, "boundaries": 0}
    return {"killed": killed, **told}


def main() -> None:
    folder, *url = sys.argv[1:]
    settings = Settings(
        data_dir=Path(folder), database_url=SecretStr(url[0]) if url else None,
        secret_key=SecretStr("a secret that only tests know"), log_level="CRITICAL", fixed_now=NOW,
    )  # fmt: skip
    app = create_api(settings)
    put_demo_firm_in_force(app.state.engine, settings, now=NOW)
    boundaries = Boundaries()
    print(json.dumps("ready"), flush=True)
    for line in sys.stdin:
        wanted = json.loads(line)
        boundaries.passed, started = 0, time.perf_counter()
        # The typesetter has threads of its own, which no child inherits: this process must never have used it.
        if wanted.keys() & {"kill_at", "kill_after_s"} or wanted["path"].endswith("/issue"):
            said = in_a_child(app, wanted, boundaries)
        else:
            said = {"killed": False, "answer": answer_of(app, wanted), "boundaries": boundaries.passed}
        said |= {"took_s": time.perf_counter() - started}
        print(json.dumps(said), flush=True)


if __name__ == "__main__":
    main()
