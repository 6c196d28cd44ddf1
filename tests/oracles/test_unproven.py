"""Every question of the design is either checked against the outside or said to be unproven in DEVELOPERS.md."""

import json
import re
from pathlib import Path

TOP = Path(__file__).parents[2]
ASKED = re.compile(r"""(?:question["']?\s*[:=]\s*|outside\(\s*)["'](\w+)["']""")


def questions() -> set[str]:
    return {path.stem for path in (TOP / "models/design").glob("*.py")} - {"__init__", "results"}


def checked() -> set[str]:
    return {name for path in (TOP / "tests").rglob("test_*.py") for name in ASKED.findall(path.read_text("utf-8"))}


def unproven() -> set[str]:
    table = (TOP / "DEVELOPERS.md").read_text("utf-8").partition("## What is unproven")[2]
    cells = [row.split("|")[1] for row in table.splitlines() if row.startswith("|")]
    return {name for cell in cells for name in re.findall(r"\w+", cell)}


def test_every_outside_case_that_was_given_is_checked() -> None:
    """55 cases were given. One that nothing in the product answers asks for an answer, or for a note on why not."""
    given = [case["id"] for case in json.loads((TOP / "tests/oracles/data/cases.json").read_text("utf-8"))]
    written = "".join(path.read_text("utf-8") for path in (TOP / "tests/oracles").glob("test_*.py"))
    assert len(set(given)) == 55
    assert [name for name in given if f'"{name}"' not in written] == []


def test_every_question_is_checked_or_said_to_be_unproven() -> None:
    assert len(questions()) > 20
    assert sorted(questions() - checked() - unproven()) == []
