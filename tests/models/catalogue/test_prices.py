"""Price lines: until when they are sold, what takes their place, and what is offered on a day."""

from datetime import date

import pytest

from api.store.seed_files import demo_households, rules_from_folder
from models.catalogue import PriceList
from models.catalogue.imports import cells_of, line_of
from models.catalogue.prices import COLUMNS
from models.estimate import Choices, estimate
from models.rules import Rules, with_price_list
from models.survey import Survey

LAST = date(2026, 3, 1)
AFTER = date(2026, 3, 2)
RULES = rules_from_folder()


def with_end(sku: str, substitute: str = "", on: date = AFTER) -> Rules:
    """The firm's rules where a line is sold until 1 March."""
    changed = {"ends_on": LAST, "substitute": substitute}
    lines = [
        line.model_copy(update=changed) if line.sku == sku else line for line in RULES.price_list.lines.values()
    ]
    return with_price_list(RULES, PriceList.of("ended", date(2026, 1, 1), tuple(lines)), on=on)


def test_the_last_day_is_a_day_of_sale() -> None:
    line = with_end("UNT-060").price_list.lines["UNT-060"]
    assert line.sold_on(LAST) and not line.sold_on(AFTER)


def test_what_has_ended_is_not_offered() -> None:
    def offered(rules: Rules) -> set[str]:
        return {offer.item.sku for offer in rules.offers.outdoor_units}

    assert "UNT-060" in offered(with_end("UNT-060", on=LAST))
    assert "UNT-060" not in offered(with_end("UNT-060", on=AFTER))


def test_substitutes_are_followed_and_never_for_ever() -> None:
    lines = RULES.price_list.lines
    a, b, c = (lines[sku] for sku in ("UNT-030", "UNT-040", "UNT-060"))

    def listed(*end: tuple[object, str]) -> PriceList:
        changed = [
            line.model_copy(update={"ends_on": LAST if where is not None else None, "substitute": other})
            for line, (where, other) in zip((a, b, c), end, strict=True)
        ]
        return PriceList.of("x", date(2026, 1, 1), tuple(changed))

    chain = listed((1, "UNT-040"), (1, "UNT-060"), (None, ""))
    found = chain.in_place_of("UNT-030", AFTER)
    assert found is not None and found.sku == "UNT-060"
    circle = listed((1, "UNT-040"), (1, "UNT-030"), (None, ""))
    assert circle.in_place_of("UNT-030", AFTER) is None


def test_cells_are_the_columns_and_read_back() -> None:
    for line in RULES.price_list.lines.values():
        assert tuple(cells_of(line)) == COLUMNS
        assert line_of(cells_of(line)) == line


@pytest.mark.parametrize("place", range(3))
def test_a_radiator_that_has_ended_is_chosen_again_and_its_room_checked_again(place: int) -> None:
    household = demo_households()[place]
    survey = Survey.model_validate(household["survey"])
    choices = Choices.model_validate(household.get("choices", {}) | {"flow_temp_c": 55})
    before = estimate(survey, choices, RULES, today=AFTER)
    used = [step.sku for room in before.design.emitters.rooms for step in room.steps if step.sku]
    after = estimate(survey, choices, with_end(used[0]), today=AFTER)
    for room in after.design.emitters.rooms:
        assert used[0] not in [step.sku for step in room.steps]
        assert room.output_w + room.short_w >= room.needed_w - 0.5


def test_a_fixed_part_gives_way_to_its_substitute_and_says_so() -> None:
    household = demo_households()[0]
    survey, choices = Survey.model_validate(household["survey"]), Choices.model_validate(household.get("choices", {}))
    before = estimate(survey, choices, RULES, today=AFTER)
    assert before.bill is not None
    fixed = {recipe.part for recipe in RULES.recipes if recipe.form == "sku" and recipe.driver == "one"}
    old = next(line for line in before.bill.lines if line.sku in fixed)
    taken = {line.sku for line in before.bill.lines}
    other = next(line for line in RULES.price_list.lines.values() if line.unit == old.unit and line.sku not in taken
                 and not line.role and line.charged_by == "pack" and line.pack_size == 1)  # fmt: skip
    after = estimate(survey, choices, with_end(old.sku, other.sku), today=AFTER)
    assert after.bill is not None
    skus = {line.sku for line in after.bill.lines}
    assert old.sku not in skus and other.sku in skus
    (said,) = [finding for finding in after.findings if finding.code == "part_substituted"]
    assert said.where == old.sku and other.sku in said.message
    without = estimate(survey, choices, with_end(old.sku), today=AFTER)
    assert "part_no_longer_sold" in {finding.code for finding in without.findings}
    assert without.price is None or without.price.total_pence is None
