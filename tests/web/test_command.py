"""The command: a quote without server or database, refusals in the surveyor's words, the demo and the service."""

import json
import os
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

import seed_data
from api.settings import Settings
from web.command import main

HOUSEHOLDS = sorted((Path(seed_data.__file__).parent / "households").glob("*.json"))
ROOT = Path(seed_data.__file__).parent.parent


@pytest.fixture
def household() -> dict[str, Any]:
    """The first household that ships."""
    record: dict[str, Any] = json.loads(HOUSEHOLDS[0].read_text("utf-8"))
    return record


def write(folder: Path, record: Any) -> str:
    """A file with this record."""
    path = folder / "survey.json"
    path.write_text(record if isinstance(record, str) else json.dumps(record), "utf-8")
    return str(path)


@pytest.mark.parametrize("path", HOUSEHOLDS, ids=lambda path: path.stem)
def test_a_quote_of_each_household_fits_a_hundred_columns(
    path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    assert main(["quote", str(path)]) == 0
    said = capsys.readouterr().out
    assert max(map(len, said.splitlines())) <= 100
    order = ["Heat loss", "Rooms and emitters", "What goes in", "Day plan", "Bill of materials", "Price", "Worked out"]
    places = [said.index(f"\n{heading}") for heading in order]
    assert places == sorted(places)


def test_a_bare_survey_and_one_with_choices_give_the_same(
    household: dict[str, Any], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["quote", "--json", write(tmp_path, household["survey"])]) == 0
    bare = json.loads(capsys.readouterr().out)
    assert main(["quote", "--json", write(tmp_path, {"survey": household["survey"], "choices": {}})]) == 0
    assert json.loads(capsys.readouterr().out) == bare
    assert bare["design"]["heat_loss_w"] > 0 and bare["label"] == household["survey"]["label"]


def test_the_flow_temperature_of_the_command_line_counts(
    household: dict[str, Any], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["quote", "--json", "--flow-temp-c", "52", write(tmp_path, household)]) == 0
    assert json.loads(capsys.readouterr().out)["design"]["flow_temp_c"] == 52


def test_days_and_what_ifs_are_told_without_a_database(
    household: dict[str, Any], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["quote", "--days", "--what-if", "--json", write(tmp_path, household)]) == 0
    told = json.loads(capsys.readouterr().out)
    assert len(told["days"]["sheets"]) >= told["labour_plan"]["days"]
    assert any("rain" in one["question"] + one["sentence"] for one in told["what_if"])


def refused(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    """What is said on stderr when the command refuses; nothing may stand on stdout."""
    assert main(arguments) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    return captured.err


def test_a_height_in_centimetres_is_named_with_its_room(
    household: dict[str, Any], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    room = household["survey"]["rooms"][0]
    room["height_m"] = 240
    said = refused(["quote", write(tmp_path, household)], capsys)
    assert room["name"] in said and "240" in said and "centimetres" in said


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"length_m": -1}, ("length_m", "-1")),
        ({"width_m": 0}, ("width_m", "0")),
        ({"length_m": float("nan")}, ("length_m", "NaN")),
        ({"colour": "blue"}, ("colour", "not a field")),
    ],
)
def test_what_is_wrong_with_a_room_is_said_in_words(
    household: dict[str, Any], tmp_path: Path, capsys: pytest.CaptureFixture[str], change: dict[str, Any],
    words: tuple[str, ...],
) -> None:  # fmt: skip
    room = household["survey"]["rooms"][0]
    room |= change
    said = refused(["quote", write(tmp_path, household)], capsys)
    assert room["name"] in said and all(word in said for word in words)
    assert "Traceback" not in said and "pydantic" not in said


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", "is not JSON: line 1"),
        ("[1]", "must hold a survey"),
        ('{"survey": {}, "chioces": {}}', "chioces"),
        ("{}", "house is missing"),
        ('{"survey": 3}', "this survey cannot be worked out yet"),
        ("[" * 100_000, "is nested too deeply"),
    ],
)
def test_a_file_that_is_no_survey_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str, words: str
) -> None:
    assert words in refused(["quote", write(tmp_path, text)], capsys)


def test_a_file_that_cannot_be_read_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "cannot be read" in refused(["quote", str(tmp_path / "nothing.json")], capsys)
    assert "cannot be read" in refused(["quote", str(tmp_path)], capsys)
    (tmp_path / "latin.json").write_bytes(b'{"label": "\xe9"}')
    assert "not text in UTF-8" in refused(["quote", str(tmp_path / "latin.json")], capsys)


def test_a_flow_temperature_out_of_range_is_refused(
    household: dict[str, Any], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = refused(["quote", "--flow-temp-c", "90", write(tmp_path, household)], capsys)
    assert "flow_temp_c is 90" in said


def test_a_name_that_no_table_knows_is_refused(
    household: dict[str, Any], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    household["survey"]["house"]["weather_station"] = "Atlantis"
    assert "Atlantis" in refused(["quote", write(tmp_path, household)], capsys)


def test_a_demo_key_that_is_no_key_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("FOOTING_DEMO_KEY", "short")
    said = refused(["demo", "--data-dir", str(tmp_path), "--port", "0"], capsys)
    assert "demo_key" in said and "at least 8 printing characters" in said
    assert list(tmp_path.iterdir()) == []


def test_the_service_does_not_start_without_a_secret(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("FOOTING_SECRET_KEY", raising=False)
    said = refused(["serve", "--data-dir", str(tmp_path), "--port", "0"], capsys)
    assert "FOOTING_SECRET_KEY" in said
    assert list(tmp_path.iterdir()) == []


def test_a_port_in_use_is_said_before_anything_is_made(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        said = refused(["demo", "--data-dir", str(tmp_path), "--port", str(taken.getsockname()[1])], capsys)
    assert "cannot listen" in said
    assert list(tmp_path.iterdir()) == []


def test_a_data_folder_that_cannot_be_used_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "file").write_text("not a folder")
    said = refused(["demo", "--data-dir", str(tmp_path / "file"), "--port", "0"], capsys)
    assert "cannot be set up" in said
    (tmp_path / "footing.sqlite3").write_text("not a database, but long enough to be looked at" * 40)
    said = refused(["demo", "--data-dir", str(tmp_path), "--port", "0"], capsys)
    assert "cannot be set up" in said


@pytest.mark.parametrize("arguments", [[], ["--help"], ["quote", "--help"], ["demo", "--help"], ["nonsense"]])
def test_help_says_what_there_is(capsys: pytest.CaptureFixture[str], arguments: list[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main(arguments)
    assert left.value.code == (0 if "--help" in arguments else 2)
    assert "footing" in "".join(capsys.readouterr())


def test_help_names_the_variable_and_the_folder_that_the_readme_names(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("FOOTING_DATA_DIR", raising=False)
    folder = str(Settings().data_dir)
    assert f"keeps its data in `{folder}`" in (ROOT / "README.md").read_text("utf-8")
    assert f"{folder}/" in (ROOT / ".gitignore").read_text("utf-8").splitlines(), "the secret of the demo lies in it"
    with pytest.raises(SystemExit):
        main(["serve", "--help"])
    said = capsys.readouterr().out
    assert "needs FOOTING_SECRET_KEY" in said and f"[{folder}]" in said


@contextmanager
def demo(folder: Path, **environment: str) -> Iterator[dict[str, str]]:
    """A demo that runs in a process of its own, with what it printed."""
    process = subprocess.Popen(
        [sys.executable, "-c", "import sys; from web.command import main; sys.exit(main())", "demo", "--port", "0",
         "--data-dir", str(folder)],
        cwd=ROOT, stdout=subprocess.PIPE, text=True, env={**os.environ, "PYTHONUNBUFFERED": "1", **environment},
    )  # fmt: skip
    try:
        assert process.stdout is not None
        said: dict[str, str] = {}
        for line in process.stdout:
            if line.startswith("Footing is at "):
                said["address"] = line.removeprefix("Footing is at ").strip()
            name, colon, value = line.partition(":  ")
            if colon:
                said[name.strip()] = value.strip()
            if line.startswith("Houses"):
                break
        yield said
    finally:
        process.terminate()
        process.wait(10)
        process.stdout.close() if process.stdout else None


def answered(address: str, path: str, key: str) -> Any:
    """What the API answers, tried until the service listens."""
    request = urllib.request.Request(f"{address}{path}", headers={"authorization": f"Bearer {key}"})
    until = time.monotonic() + 60
    while True:
        try:
            with urllib.request.urlopen(request, timeout=10) as response:
                return json.load(response)
        except OSError:
            if time.monotonic() > until:
                raise
            time.sleep(0.1)


def test_a_second_start_of_the_demo_keeps_the_data(tmp_path: Path) -> None:
    with demo(tmp_path) as first:
        key = first["API key of the demo"]
        jobs = answered(first["address"], "/api/v1/jobs", key)["items"]
        assert len(jobs) == 3
    with demo(tmp_path) as second:
        assert second["API key of the demo"] == key
        assert answered(second["address"], "/api/v1/jobs", key)["items"] == jobs
        assert second["Sign in with this link, once"] != first["Sign in with this link, once"]
    with demo(tmp_path, FOOTING_DEMO_KEY="my-own-demo-key") as third:
        assert answered(third["address"], "/api/v1/jobs", "my-own-demo-key")["items"] == jobs


def test_a_quote_in_the_terminal_loads_neither_database_nor_server() -> None:
    said = subprocess.run(
        [
            sys.executable,
            "-c",
            "import sys; from web.command import main; main(['quote', sys.argv[1]]); "
            "print(sorted({'sqlalchemy', 'sqlmodel', 'fastapi', 'uvicorn'} & set(sys.modules)))",
            str(ROOT / "seed_data/households/alder_row.json"),
        ],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    assert said.stdout.splitlines()[-1] == "[]"
