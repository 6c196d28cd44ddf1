"""What all tests share: the order on two cores, the oracle cases and their report, the seed data as rules.

A whole run is shared out among workers of pytest-xdist, one a core; a run of named files has none. What stands at the
end of a run travels with the report of its test, so that it is the same with workers and without.
"""

import json
import os
from collections import Counter, defaultdict
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from xdist.scheduler import LoadScopeScheduling

HERE = Path(__file__).parent
MOST_WORKERS = 4
SLOW_FIRST = [
    "house/test_house_rules.py", "api/test_killed.py", "browser/test_phone.py", "api/test_contract.py",
    "api/test_roles.py", "browser/test_laptop.py", "api/test_quotes.py", "whole/test_nothing_decorative.py",
    "api/test_repricing.py", "web/test_command.py", "api/test_quotes_life.py",
]  # fmt: skip
"""Files that take longest, in that order: begun first, so that no worker is left with one of them at the end."""
QUICK_LAST = "models/"
STANDINGS = ("published", "second computation", "common practice", "from memory")
_passed: dict[str, Counter[str]] = defaultdict(Counter)
_through_estimate: Counter[str] = Counter()
_said: list[str] = []


class Deviation(NamedTuple):
    """How far a case is from the outside: share of its tolerance used, actual and expected value, the case."""

    share_ratio: float
    actual: float
    expected: float
    case: str


_running: list[Deviation] | None = None
_worst: dict[str, Deviation] = {}
_Approx: Any = type(pytest.approx(1.0))
_compare = _Approx.__eq__


def _compare_and_note(self: Any, actual: Any) -> bool:
    """What `pytest.approx` does, with the deviation noted while an oracle case runs: no case can forget to report."""
    holds = _compare(self, actual)
    numbers = isinstance(actual, (int, float)) and isinstance(self.expected, (int, float))
    if holds and _running is not None and numbers and self.tolerance > 0:
        _running.append(Deviation(abs(actual - self.expected) / self.tolerance, actual, self.expected, ""))
    return holds


_Approx.__eq__ = _compare_and_note


def pytest_configure(config: pytest.Config) -> None:
    gone = [name for name in SLOW_FIRST if not (HERE / name).exists()]
    if gone:
        raise pytest.UsageError(f"tests/conftest.py begins with files that are not there: {gone}")
    config.addinivalue_line(
        "markers",
        "oracle(question, source, standing, tolerance, case=None, through_estimate=False): a check against the "
        "outside; `question` is a file of models/design or physics, pricing, labour; `case` an id of data/cases.json",
    )


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """One worker a core for a whole run; none where files are named or where output is wanted as it comes."""
    named = config.args_source is pytest.Config.ArgsSource.ARGS
    cores = min(MOST_WORKERS, os.cpu_count() or 1)
    return cores if cores > 1 and not named and config.option.capture != "no" else 0


class Files(LoadScopeScheduling):
    """Shares out whole files, and what needs the PostgreSQL server as one, so that one worker starts it."""

    def _split_scope(self, nodeid: str) -> str:
        return "postgresql" if "[postgresql" in nodeid else nodeid.split("::")[0]


@pytest.hookimpl(tryfirst=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Files | None:
    return Files(config, log) if config.option.dist == "loadfile" else None


def _turn(item: pytest.Item) -> tuple[bool, int, bool]:
    file = item.path.relative_to(HERE).as_posix()
    slow = SLOW_FIRST.index(file) if file in SLOW_FIRST else len(SLOW_FIRST)
    return "[postgresql" not in item.nodeid, slow, file.startswith(QUICK_LAST)


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    items.sort(key=_turn)
    for item in items:
        for mark in item.iter_markers("oracle"):
            missing = {"question", "source", "standing", "tolerance"} - set(mark.kwargs)
            if missing:
                raise pytest.UsageError(f"{item.nodeid}: the oracle mark lacks {sorted(missing)}")
            if mark.kwargs["standing"] not in STANDINGS:
                raise pytest.UsageError(f"{item.nodeid}: standing is one of {STANDINGS}")


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Any:
    global _running
    _running = [] if item.get_closest_marker("oracle") else None
    yield
    found, _running = _running, None
    worst = max(found, default=None) if found is not None else None
    for mark in item.iter_markers("oracle"):
        holds = {name: mark.kwargs[name] for name in ("question", "standing")}
        holds["through_estimate"] = bool(mark.kwargs.get("through_estimate"))
        holds["worst"] = worst and [*map(float, worst[:3]), item.name]
        item.user_properties.append(("oracle", holds))


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Take from the report of a test what is told at the end; with workers it is their only way to the terminal."""
    if report.when != "call":
        return
    for name, value in report.user_properties:
        if name == "says":
            _said.append(str(value))
        elif name == "oracle" and report.passed:
            _count(value)  # type: ignore[arg-type]


def _count(holds: dict[str, Any]) -> None:
    question = holds["question"]
    _passed[question][holds["standing"]] += 1
    _through_estimate[question] += holds["through_estimate"]
    if holds["worst"]:
        worst = Deviation(*holds["worst"])
        _worst[question] = max(_worst.get(question, worst), worst)


def pytest_terminal_summary(terminalreporter: Any, config: pytest.Config) -> None:
    if _said:
        beside = " while other workers ran beside (alone: -n 0)" if config.option.dist != "no" else ""
        terminalreporter.section(f"measured{beside}")
        for text in _said:
            terminalreporter.line(text)
    if not _passed:
        return
    terminalreporter.section("oracles that hold, by question and standing")
    for question in sorted(_passed):
        counts = ", ".join(f"{_passed[question][s]} {s}" for s in STANDINGS if _passed[question][s])
        terminalreporter.line(f"{question:22} {counts}; {_through_estimate[question]} through estimate()")
        terminalreporter.line(f"{'':22} worst: {_worst_words(question)}")
    totals = Counter[str]()
    for counter in _passed.values():
        totals.update(counter)
    terminalreporter.line("together: " + ", ".join(f"{totals[s]} {s}" for s in STANDINGS if totals[s]))


def _worst_words(question: str) -> str:
    """The case of a question that uses most of its tolerance; those that want equality have none."""
    worst = _worst.get(question)
    if worst is None:
        return "exact in every case"
    return f"{worst.actual:.6g} against {worst.expected:.6g}, {worst.share_ratio:.0%} of what {worst.case} allows"


@pytest.fixture
def say(record_property: Callable[[str, object], None]) -> Callable[[str], None]:
    """Shows what a test has measured, at the end of the run."""
    return lambda text: record_property("says", text)


@pytest.fixture(scope="session")
def cases() -> dict[str, dict[str, Any]]:
    """The published and computed cases of data/cases.json by id."""
    records = json.loads((HERE / "oracles/data/cases.json").read_text())
    return {record["id"]: record for record in records}


@pytest.fixture(scope="session")
def rules() -> Any:
    """The seed folder as rules."""
    from api.store.seed_files import rules_from_folder

    return rules_from_folder()


@pytest.fixture(scope="session")
def households() -> dict[str, dict[str, Any]]:
    """The demo households and the smallest survey as {survey, choices} records by name."""
    folder = HERE.parent / "seed_data/households"
    return {path.stem: json.loads(path.read_text("utf-8")) for path in sorted(folder.glob("*.json"))}
