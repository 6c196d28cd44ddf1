"""A served demo for a real browser, one for each file of tests."""

import socket
import threading
import time
from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
from pydantic import SecretStr

from api.settings import Settings
from api.startup import load_demo
from api.store.seed_files import demo_households


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, str]]:
    """The address of a served demo and the token of a link that signs in once."""
    import uvicorn

    from web.app import create_app

    settings = Settings(
        data_dir=tmp_path_factory.mktemp("phone"), database_url=None, secret_key=SecretStr("only-for-tests-" * 3)
    )
    app = create_app(settings)
    token = load_demo(app.state.engine, settings, demo_households(), now=datetime.now(UTC)).signin_token
    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    server = uvicorn.Server(uvicorn.Config(app, log_level="warning", access_log=False))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    waited = time.monotonic() + 60
    while not server.started and time.monotonic() < waited:
        time.sleep(0.05)
    assert server.started
    yield f"http://127.0.0.1:{listening.getsockname()[1]}", token
    server.should_exit = True
    thread.join(10)
