"""Every question of the design is either checked against the outside or said to be unproven in DEVELOPERS.md."""

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


def test_every_question_is_checked_or_said_to_be_unproven() -> None:
    assert len(questions()) > 20
    assert sorted(questions() - checked() - unproven()) == []
