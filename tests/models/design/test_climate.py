import pytest

from models.design.climate import SOURCE, UnknownRule, UnknownStation, climate
from models.reference import load
from models.survey import House

HOUSE = House(
    nation="england",
    place="Nether Fallow",
    altitude_m=196,
    weather_station="Birmingham",
    climate_region=6,
    dwelling_type="semi_detached",
    age_band="D",
    storeys=2,
    bedrooms=3,
    occupants=4,
    slab_area_m2=50,
    exposed_perimeter_m=21,
)


def at(altitude_m: float, *, rule: str = "per_100m", percentile: str = "99", **changes: object):
    house = HOUSE.model_copy(update={"altitude_m": altitude_m, **changes})
    return climate(house=house, reference=load(), altitude_rule=rule, percentile=percentile)


# Birmingham: 96 m, -3.4 °C at 99 % (CIBSE Guide A Table 2.5), -5.4 °C at 99.6 % (from memory).
@pytest.mark.parametrize(
    ("altitude_m", "rule", "correction_k"),
    [
        (196, "per_100m", -0.6),  # 100 m above: -0.6 K
        (46, "per_100m", 0.3),  # 50 m below: in proportion, warmer
        (96, "per_100m", 0.0),
        (196, "per_100m_full", -1.0),
        (145.9, "per_complete_50m", 0.0),  # 49.9 m above: no complete step
        (146, "per_complete_50m", -0.3),
        (196.5, "per_complete_50m", -0.6),
        (10, "per_complete_50m", 0.0),  # below the station: nothing
    ],
)
def test_altitude(altitude_m: float, rule: str, correction_k: float) -> None:
    result = at(altitude_m, rule=rule)
    assert result.altitude_correction_k == pytest.approx(correction_k)
    assert result.design_outdoor_temp_c == pytest.approx(-3.4 + correction_k)
    assert (result.station, result.station_altitude_m, result.altitude_rule) == ("Birmingham", 96, rule)


def test_the_rarer_cold_is_colder() -> None:
    assert at(96, percentile="99_6").design_outdoor_temp_c == -5.4


# Day-weighted means of SAP Appendix U Table U1, second computation beside the table as it was re-keyed.
@pytest.mark.parametrize(("region", "mean_c"), [(0, 10.0205), (1, 11.0814), (6, 10.0463), (20, 7.9562)])
def test_annual_mean_is_weighted_by_days(region: int, mean_c: float) -> None:
    result = at(96, climate_region=region)
    assert result.annual_mean_temp_c == pytest.approx(mean_c, abs=5e-5)
    assert len(result.monthly_mean_temp_c) == 12


def test_an_unknown_station_is_named_with_those_there_are() -> None:
    with pytest.raises(UnknownStation, match=r"'Camelot'.*Belfast, Birmingham.*Plymouth"):
        at(96, weather_station="Camelot")


def test_unknown_rules_are_named_with_those_there_are() -> None:
    with pytest.raises(UnknownRule, match=r"'per_mile'.*per_100m, per_complete_50m"):
        at(96, rule="per_mile")
    with pytest.raises(UnknownRule, match=r"'98'.*99, 99_6"):
        at(96, percentile="98")


def test_every_region_and_station_of_the_tables_gives_a_climate() -> None:
    reference = load()
    assert [region.number for region in reference.regions] == list(range(22))
    for station in reference.stations:
        assert -10 < at(100, weather_station=station).design_outdoor_temp_c < 5


def test_the_source_says_what_is_from_memory() -> None:
    assert "from memory" in str(SOURCE)
    assert at(96).source.standing == "published"
