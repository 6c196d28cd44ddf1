"""The cautions of a house: each defers to the law, to licensed people and to the local rules."""

import json
from pathlib import Path
from typing import Any

import pytest

from models.design.hazards import hazard_findings
from models.findings import Finding
from models.reference import load
from models.survey import Survey

SMALLEST = json.loads(Path("seed_data/households/smallest.json").read_text())["survey"]


def said(position: Any = None, **change: Any) -> dict[str, Finding]:
    survey = Survey.model_validate(SMALLEST | change)
    return {finding.code: finding for finding in hazard_findings(survey=survey, position=position, reference=load())}


@pytest.mark.parametrize(
    ("hazard", "code", "strength", "words"),
    [
        ({"kind": "asbestos"}, "asbestos_not_sampled", "ask", "no sample is planned"),
        ({"kind": "asbestos", "samples": 1}, "asbestos_suspected", "ask", "1 sample goes to a laboratory"),
        ({"kind": "asbestos", "samples": 2}, "asbestos_suspected", "ask", "2 samples go to a laboratory"),
        ({"kind": "lead_pipe"}, "lead_pipe", "note", "not joined to with lead solder"),
        ({"kind": "buried_services"}, "buried_services", "ask", "dig by hand"),
        ({"kind": "work_at_height"}, "work_at_height", "note", "scaffold"),
        ({"kind": "other"}, "hazard_recorded", "note", "assess it on site"),
    ],
)
def test_each_kind_has_its_caution_where_it_was_seen(
    hazard: dict[str, Any], code: str, strength: str, words: str
) -> None:
    finding = said(hazards=[hazard | {"where": "cellar"}])[code]
    assert (finding.strength, finding.where) == (strength, "cellar")
    assert words in finding.message and finding.source


def test_an_old_house_without_a_word_of_asbestos_is_asked_and_a_new_one_not() -> None:
    """Control of Asbestos Regulations 2012; the last ban was in November 1999 (from memory)."""
    house = SMALLEST["house"]
    assert "asbestos_not_looked_for" in said(house=house | {"age_band": "C"})
    assert "asbestos_not_looked_for" not in said(house=house | {"age_band": "L"})


def test_tanks_that_come_out_of_a_loft_are_counted() -> None:
    tank = {"name": "cold tank", "volume_l": 230}
    one, two = ([tank], [tank, tank | {"name": "feed tank", "volume_l": 30}, tank | {"name": "stays", "remove": False}])
    existing = SMALLEST["existing"]
    assert said(existing=existing | {"loft_tanks": one})["loft_work"].message.startswith("1 tank of up to 230 L comes")
    assert said(existing=existing | {"loft_tanks": two})["loft_work"].message.startswith("2 tanks of up to 230 L come")
