from typing import Any

import pytest

from models.design.cross_check import SOURCE, WHY, cross_checks
from models.design.results import Climate, HeatLoss
from models.reference import load
from models.survey import House

HOUSE: dict[str, Any] = {
    "nation": "england", "place": "Nether Fallow", "altitude_m": 96, "weather_station": "Birmingham",
    "climate_region": 6, "dwelling_type": "semi_detached", "storeys": 2, "bedrooms": 3, "occupants": 4,
    "slab_area_m2": 50, "exposed_perimeter_m": 21,
}  # fmt: skip


def found(age_band: str, w_per_m2: float, *, outdoor_temp_c: float = -4.0):
    loss = HeatLoss("-", (), 0, 0, 0, w_per_m2 * 100, 100, w_per_m2, 0, 20.0)
    climate = Climate("-", 0, outdoor_temp_c, "-", 0, outdoor_temp_c, 10, (10.0,) * 12, "-", SOURCE)
    house = House(**HOUSE, age_band=age_band)
    return cross_checks(heat_loss=loss, climate=climate, house=house, reference=load())


# Band D: 55 to 105 W/m2 at 24 K (common practice, no source); 30 % outside: 38.5 and 136.5.
@pytest.mark.parametrize(
    ("w_per_m2", "word"), [(38, "much less"), (39, None), (55, None), (105, None), (136, None), (137, "much more")]
)
def test_more_than_thirty_per_cent_outside_the_usual_is_asked_about(w_per_m2: float, word: str | None) -> None:
    findings = found("D", w_per_m2)
    if word is None:
        assert findings == ()
    else:
        (finding,) = findings
        assert (finding.code, finding.strength) == ("unusual_for_age", "ask")
        assert word in finding.message and "55 to 105" in finding.message and finding.remedy


def test_a_colder_place_may_lose_more() -> None:
    # 30 K instead of 24: up to 105 x 1.25 x 1.3 = 170.6 W/m2
    assert found("D", 170, outdoor_temp_c=-10) == ()
    assert found("D", 171, outdoor_temp_c=-10) != ()


def test_newer_houses_usually_lose_less_and_every_band_has_a_range() -> None:
    ranges = load().heat_loss.usual.w_per_m2_by_age_band
    assert list(ranges) == list(load().walls.bands)
    for (low, high), (newer_low, newer_high) in zip(list(ranges.values()), list(ranges.values())[1:], strict=False):
        assert newer_low <= low and newer_high <= high


def test_the_sentence_fills() -> None:
    loss = HeatLoss("-", (), 0, 0, 0, 5000, 100, 50, 0, 20.0)
    assert WHY.sentence.format(heat_loss_w_per_m2=loss.heat_loss_w_per_m2).startswith("50 W/m2")


@pytest.mark.parametrize(("altitude_m", "word"), [(195, None), (346, "14 % more heat")])
def test_a_house_on_a_hill_has_a_colder_year_than_its_region(altitude_m: float, word: str | None) -> None:
    # All months at 5 °C: 15.5 - 5 = 10.5 K under the base; 250 m up at 0.6 K a 100 m it is 12.0 K, 14 % more.
    loss = HeatLoss("-", (), 0, 0, 0, 7000, 100, 70, 0, 20.0)
    climate = Climate("Birmingham", 96, -4, "-", 0, -4, 5, (5.0,) * 12, "Midlands", SOURCE)
    house = House(**HOUSE | {"altitude_m": altitude_m}, age_band="D")
    findings = cross_checks(heat_loss=loss, climate=climate, house=house, reference=load())
    if word is None:
        assert findings == ()
    else:
        (finding,) = findings
        assert (finding.code, finding.strength) == ("year_colder_than_region", "note")
        assert "250 m above Birmingham" in finding.message and word in finding.message
