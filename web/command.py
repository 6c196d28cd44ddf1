"""The `footing` command: a quote in the terminal, a demo to click through, the service.

Imports are made where they are needed, so that `footing quote` starts at once.
"""

import argparse
import json
import os
import shutil
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from typing import Any

REFUSED = 2
EPILOG = """examples:
  footing demo                        a demo with three invented houses at http://127.0.0.1:8700
  footing quote survey.json           design, day plan, bill and price in this terminal
  footing quote survey.json --flow-temp-c 45 --json > answer.json
  footing quote survey.json --days --what-if      day sheets, and what rain or a late electrician would do
  FOOTING_SECRET_KEY=... footing serve --data-dir /var/lib/footing
"""


class Refusal(Exception):
    """Why the command does nothing: a first line and what stands under it."""

    def __init__(self, said: str, lines: Sequence[str] = ()) -> None:
        super().__init__(said)
        self.said = said
        self.lines = lines


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command; the answer is the exit status: 0, or 2 where it refused."""
    given = _parser().parse_args(argv)
    try:
        return int(given.run(given) or 0)
    except Refusal as refusal:
        print(f"footing: {refusal.said}", file=sys.stderr)
        for line in refusal.lines:
            print(f"  - {line}", file=sys.stderr)
        return REFUSED
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except KeyboardInterrupt:
        return 130


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="footing",
        description="From a surveyed house to a priced heat-pump quote: design, day plan, bill of materials, price.",
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    commands = parser.add_subparsers(title="commands", required=True, metavar="demo | quote | serve")

    quote = commands.add_parser("quote", help="work out one survey and print it; needs no server and no database")
    quote.add_argument("file", metavar="FILE.json", help='a survey, or {"survey": …, "choices": …}')
    quote.add_argument("--flow-temp-c", type=float, metavar="N", help="flow temperature at the coldest, in °C")
    quote.add_argument("--days", action="store_true", help="also day sheets, pick lists and delivery checks")
    quote.add_argument("--what-if", action="store_true", help="also rain, a damaged part, a late electrician; seconds")
    quote.add_argument("--json", action="store_true", help="print the document that the API answers")
    quote.set_defaults(run=_quote)

    for name, run, words in (
        ("demo", _demo, "start with invented houses, users and a key; keeps what you change"),
        ("serve", _serve, "start the service; needs FOOTING_SECRET_KEY"),
    ):
        command = commands.add_parser(name, help=words, description=words[0].upper() + words[1:] + ".")
        command.add_argument("--data-dir", type=Path, metavar="DIR", help="folder of the database [footing-data]")
        command.add_argument("--host", metavar="HOST", help="address to listen at [127.0.0.1]")
        command.add_argument("--port", type=int, metavar="PORT", help="port to listen at [8700]")
        command.set_defaults(run=run)
    return parser


# --- demo and serve ---


def _settings(given: argparse.Namespace) -> Any:
    """The settings from the environment with what the command line says in their place. Raises Refusal."""
    from pydantic import ValidationError

    from api.settings import Settings

    said = {name: getattr(given, name) for name in ("data_dir", "host", "port") if getattr(given, name) is not None}
    try:
        return Settings(**said)
    except ValidationError as error:
        lines = [
            f"{'.'.join(map(str, one['loc']))}: {one['msg'].removeprefix('Value error, ')}"
            for one in error.errors(include_url=False)
        ]
        raise Refusal("the settings cannot be used:", lines) from error


def _demo(given: argparse.Namespace) -> int:
    settings = _settings(given)
    listening = _listen(settings.host, settings.port)
    from api.startup import load_demo, with_local_secret
    from api.store.seed_files import SEED_FOLDER, demo_households

    if "log_level" not in settings.model_fields_set:
        settings = settings.model_copy(update={"log_level": "WARNING"})
    with _set_up(settings.data_dir):
        settings = with_local_secret(settings)
        app = _app(settings)
        households = demo_households(settings.seed_dir or SEED_FOLDER)
        loaded = load_demo(app.state.engine, settings, households, now=_now(settings))
    address = _address(settings.host, listening.getsockname()[1])
    print(f"Footing is at {address}")
    print(f"  Sign in with this link, once:  {address}/sign-in/link?token={loaded.signin_token}")
    print(f"  API key of the demo:           {loaded.api_key}")
    print(f"  Data:                          {settings.data_dir.resolve()}")
    print(
        "Houses, people, products and prices are invented. Stop with Ctrl-C; a second start keeps the data.", flush=True
    )
    return _run(app, listening)


def _serve(given: argparse.Namespace) -> int:
    settings = _settings(given)
    try:
        settings.required_secret()
    except ValueError as error:
        raise Refusal(
            f"the service does not start without a secret: {error}",
            [
                "make one, for example with:  python3 -c 'import secrets; print(secrets.token_urlsafe(32))'",
                "keep it: sessions and links made under another secret stop working",
            ],
        ) from error
    listening = _listen(settings.host, settings.port)
    from api.startup import first_owner

    with _set_up(settings.data_dir):
        app = _app(settings)
        token = first_owner(app.state.engine, settings, now=_now(settings))
    address = _address(settings.host, listening.getsockname()[1])
    print(f"Footing is at {address}")
    if token is not None:
        print("  There was no user yet. Sign in as owner with this link, once:")
        print(f"  {address}/sign-in/link?token={token}")
    sys.stdout.flush()
    return _run(app, listening)


@contextmanager
def _set_up(folder: Path) -> Iterator[None]:
    """Whatever keeps the database from being set up, as a refusal."""
    from sqlalchemy.exc import SQLAlchemyError

    try:
        yield
    except (OSError, ValueError, SQLAlchemyError) as error:
        raise Refusal(f"the database cannot be set up ({folder}): {error}") from error


def _app(settings: Any) -> Any:
    from web.app import create_app

    return create_app(settings)


def _now(settings: Any) -> datetime:
    from api.deps import now_of

    return now_of(settings)


def _listen(host: str, port: int) -> Any:
    """A socket that listens already, so that a port in use is said before anything is made. Raises Refusal."""
    import socket

    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listening = socket.socket(family)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((host, port))
        listening.listen(512)
    except OSError as error:
        listening.close()
        raise Refusal(
            f"cannot listen at {host}, port {port}: {error.strerror or error}; choose another --port"
        ) from error
    return listening


def _address(host: str, port: int) -> str:
    shown = {"0.0.0.0": "127.0.0.1", "::": "[::1]"}.get(host, f"[{host}]" if ":" in host else host)
    return f"http://{shown}:{port}"


def _run(app: Any, listening: Any) -> int:
    import uvicorn

    config = uvicorn.Config(app, log_level="warning", access_log=False, server_header=False, proxy_headers=False)
    uvicorn.Server(config).run(sockets=[listening])
    return 0


# --- quote ---


def _quote(given: argparse.Namespace) -> int:
    survey, choices = _survey_and_choices(_read(given.file), given.flow_temp_c)
    from api.papers import first_used_of_files, papers_of, what_if_of
    from api.store.seed_files import rules_from_folder
    from models.document import estimate_document
    from models.estimate import estimate

    rules = rules_from_folder()
    try:
        worked_out = estimate(
            survey, choices, rules, today=date.today(), effort="thorough" if given.days or given.what_if else "live"
        )
    except ValueError as error:
        raise Refusal("this survey cannot be worked out:", [str(error)]) from error
    document = estimate_document(worked_out)
    used = first_used_of_files(rules)
    papers = papers_of(document, used)
    if given.days:
        document["days"] = papers
    if given.what_if:
        document["what_if"] = what_if_of(worked_out, used)
    if given.json:
        print(json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False))
        return 0
    from web.terminal import terminal_text

    _speak_utf_8()
    said = papers["services_sentence"] if papers else ""
    print(terminal_text(document, shutil.get_terminal_size((100, 40)).columns, off_said=said))
    return 0


def _speak_utf_8() -> None:
    reconfigure = getattr(sys.stdout, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(encoding="utf-8", errors="replace")


def _read(path: str) -> Any:
    try:
        raw = sys.stdin.buffer.read() if path == "-" else Path(path).read_bytes()
    except OSError as error:
        raise Refusal(f"{path} cannot be read: {error.strerror or error}") from error
    try:
        return json.loads(raw.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise Refusal(f"{path} is not text in UTF-8") from error
    except json.JSONDecodeError as error:
        raise Refusal(f"{path} is not JSON: line {error.lineno}, column {error.colno}: {error.msg}") from error
    except RecursionError as error:
        raise Refusal(f"{path} is nested too deeply") from error


def _survey_and_choices(body: Any, flow_temp_c: float | None) -> tuple[Any, Any]:
    """The survey and the choices of a file. Raises Refusal in the surveyor's words."""
    from pydantic import ValidationError

    from api.wording import faults_in_words
    from models.estimate import Choices
    from models.survey import Survey

    if not isinstance(body, dict):
        raise Refusal("the file must hold a survey: a JSON object")
    choices: Any = {}
    if "survey" in body:
        others = sorted(set(body) - {"survey", "choices"})
        if others:
            raise Refusal(f"beside survey and choices the file has {', '.join(others)}, which mean nothing here")
        body, choices = body["survey"], body.get("choices") or {}
    if flow_temp_c is not None:
        choices = {**choices, "flow_temp_c": flow_temp_c} if isinstance(choices, dict) else choices
    found: list[Any] = []
    lines: list[str] = []
    for model, part, where in ((Survey, body, "the survey"), (Choices, choices, "the choices")):
        try:
            found.append(model.model_validate(part))
        except ValidationError as error:
            faults = faults_in_words(error.errors(include_url=False), part, root=model, where=where)
            lines += [f"{fault.where}: {fault.message}" for fault in faults]
    if lines:
        raise Refusal("this survey cannot be worked out yet:", list(dict.fromkeys(lines)))
    return found[0], found[1]
