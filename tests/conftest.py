"""What all tests share: the oracle cases, the report of oracles, the seed data as rules."""

import json
from collections import Counter, defaultdict
from pathlib import Path
from typing import Any, NamedTuple

import pytest

HERE = Path(__file__).parent
STANDINGS = ("published", "second computation", "common practice", "from memory")
_passed: dict[str, Counter[str]] = defaultdict(Counter)
_through_estimate: Counter[str] = Counter()


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
    config.addinivalue_line(
        "markers",
        "oracle(question, source, standing, tolerance, case=None, through_estimate=False): a check against the "
        "outside; `question` is a file of models/design or physics, pricing, labour; `case` an id of data/cases.json",
    )


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
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
    outcome = yield
    found, _running = _running, None
    if found and outcome.excinfo is None:
        worst = max(found)
        for mark in item.iter_markers("oracle"):
            question = mark.kwargs["question"]
            if question not in _worst or worst.share_ratio > _worst[question].share_ratio:
                _worst[question] = worst._replace(case=item.name)


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]) -> Any:
    outcome = yield
    report = outcome.get_result()
    if report.when == "call" and report.passed:
        for mark in item.iter_markers("oracle"):
            _passed[mark.kwargs["question"]][mark.kwargs["standing"]] += 1
            _through_estimate[mark.kwargs["question"]] += bool(mark.kwargs.get("through_estimate"))


def pytest_terminal_summary(terminalreporter: Any) -> None:
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
