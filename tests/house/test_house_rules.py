"""The rules of the house, checked: layers, style, types, units in names, the layout of the top level."""

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

TOP = Path(__file__).parents[2]
BIN = Path(sys.executable).parent

SUFFIXES = (
    "_w", "_kw", "_wh", "_kwh", "_j", "_c", "_k", "_m", "_mm", "_m2", "_mm2", "_m3", "_l", "_kg", "_pa", "_bar", "_a",
    "_v", "_h", "_s", "_min", "_minutes", "_days", "_years", "_dba", "_db", "_ratio", "_pence", "_gbp", "_kd", "_kh",
    "_hours",
    "_m_per_s", "_l_per_s", "_l_per_min", "_m3_per_h", "_per_h", "_per_year", "_w_per_k", "_w_per_m", "_w_per_m2",
    "_w_per_m2k", "_w_per_mk", "_m2k_per_w", "_pa_per_m", "_mg_per_l", "_l_per_day", "_kwh_per_day", "_l_per_m",
    "_kg_per_m3", "_j_per_kgk", "_pa_s", "_wh_per_m3k", "_k_per_100m", "_k_per_m", "_m2_per_m", "_mv_per_a_m", "_kva",
    "_equivalent_m", "_pence_per_h", "_pence_per_m", "_pence_per_kwh", "_mm2_per_m", "_kg_per_s", "_day", "_deg",
    "_per_m2", "_kwh_per_l", "_kwh_per_m3", "_kwh_per_kg", "_w_per_mm", "_per_k",
)  # fmt: skip
NO_UNIT = {
    "exponent": "a pure power", "value": "its unit stands beside it", "amount": "a row's factor",
    "per": "a row's factor",
    "fixed": "a row's addition", "waste": "a ratio in the row's own column", "power": "a pure power",
    "coefficient": "an empirical constant", "people": "persons", "x": "any number", "y": "any number",
    "low": "a bound", "high": "a bound", "number": "a number", "quantity": "its unit stands beside it",
    "used": "its unit stands beside it", "bought": "its unit stands beside it", "charged": "its unit stands beside it",
    "reynolds": "dimensionless", "friction_factor": "dimensionless", "factor": "dimensionless",
    "multiplier": "dimensionless", "pack_size": "its unit stands beside it", "at_least": "a threshold of a quantity",
    "below": "a threshold of a quantity", "needed": "its unit stands beside it", "there": "its unit stands beside it",
    "mean": "a number of any unit", "deviation": "a number of any unit", "at": "a place on an axis",
}  # fmt: skip


def _numeric(annotation: ast.expr | None) -> bool:
    if annotation is None:
        return False
    text = ast.unparse(annotation)
    return re.fullmatch(r"(float|Decimal)( \| None)?", text) is not None


def _names(tree: ast.AST):
    for node in ast.walk(tree):
        if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name) and _numeric(node.annotation):
            yield node.target.id, node.lineno
        elif isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            for argument in node.args.kwonlyargs:
                if _numeric(argument.annotation):
                    yield argument.arg, node.lineno


def test_every_physical_quantity_carries_its_unit() -> None:
    bare = [
        f"{path.relative_to(TOP)}:{line}: {name}"
        for folder in ("models", "api")
        for path in sorted((TOP / folder).rglob("*.py"))
        for name, line in _names(ast.parse(path.read_text()))
        if name.lower() not in NO_UNIT and not f"_{name.lower()}".endswith(SUFFIXES)
    ]
    assert bare == []


@pytest.mark.parametrize(
    "command",
    [
        ["lint-imports", "--config", "pyproject.toml"],
        ["ruff", "check", "."],
        ["mypy"],
    ],
    ids=lambda command: command[0],
)
def test_checker_is_content(command: list[str]) -> None:
    result = subprocess.run([BIN / command[0], *command[1:]], cwd=TOP, capture_output=True, text=True)
    assert result.returncode == 0, result.stdout[-4000:] + result.stderr[-2000:]


def test_the_pure_core_knows_no_clock_database_or_chance() -> None:
    forbidden = {"time", "random", "sqlite3", "os", "logging", "socket", "uuid", "sqlmodel", "sqlalchemy", "fastapi",
                 "secrets", "httpx"}  # fmt: skip
    found = []
    for path in sorted((TOP / "models").rglob("*.py")):
        if "records" in path.parts:
            continue
        for node in ast.walk(ast.parse(path.read_text())):
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                names = [node.module or ""]
            elif isinstance(node, ast.Attribute) and node.attr in {"today", "now", "utcnow"}:
                found.append(f"{path.relative_to(TOP)}:{node.lineno}: .{node.attr}")
            found += [f"{path.relative_to(TOP)}: {name}" for name in names if name.split(".")[0] in forbidden]
    assert found == []


def test_only_the_agreed_names_stand_at_the_top() -> None:
    agreed = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "docker-compose.yml", "api", "web", "models",
              "tests", "seed_data"}  # fmt: skip
    tracked = subprocess.run(["git", "ls-files"], cwd=TOP, capture_output=True, text=True).stdout.split()
    top = {name.split("/")[0] for name in tracked}
    assert {name for name in top if not name.startswith(".")} <= agreed


def test_developers_md_names_only_paths_that_exist() -> None:
    text = (TOP / "DEVELOPERS.md").read_text()
    table = text.split("## Where does my change go?")[1].split("\n## ")[0]
    paths = re.findall(r"`((?:models|api|web|tests|seed_data)/[^`\s]*)`", table)
    assert paths, "the table names no paths"
    assert [path for path in paths if not (TOP / path).exists()] == []


def test_every_row_of_a_table_in_developers_md_is_whole() -> None:
    tables = re.findall(r"(?:^\|.*\n)+", (TOP / "DEVELOPERS.md").read_text(), re.MULTILINE)
    rows = [(table.split("\n")[0], row) for table in tables for row in table.splitlines()]
    assert [row for head, row in rows if not row.endswith("|") or row.count("|") != head.count("|")] == []
