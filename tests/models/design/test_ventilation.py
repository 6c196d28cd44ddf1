from dataclasses import replace

import pytest

from models.design.ventilation import UnknownAirChangeTable, room_air
from models.reference import load
from models.survey import House, Room

HOUSE = House(
    nation="england",
    place="Nether Fallow",
    altitude_m=96,
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
ROOM = Room(id="r", name="Kitchen", use="kitchen", length_m=4, width_m=3, height_m=2.5)


def air(age_band: str = "D", **room: object):
    changed = Room(**{**ROOM.model_dump(exclude_unset=True), **room})
    house = HOUSE.model_copy(update={"age_band": age_band})
    return room_air(rooms=[changed], house=house, reference=load())["r"]


# Household design guide (from memory): kitchen 2.0 before 2000, 1.5 from 2000 to 2006, 0.5 after. Band I is 1996 to
# 2002 and takes the larger rate, J 2003 to 2006, K from 2007.
@pytest.mark.parametrize(
    ("band", "changes"), [("A", 2.0), ("H", 2.0), ("I", 2.0), ("J", 1.5), ("K", 0.5), ("L", 0.5), ("M", 0.5)]
)
def test_by_use_and_age(band: str, changes: float) -> None:
    result = air(band)
    assert result.air_changes_per_h == changes
    assert result.flow_m3_per_h == pytest.approx(changes * 30)
    assert result.assumed
    assert f"age band {band}" in result.how


def test_every_use_has_air_changes_in_every_band() -> None:
    reference = load()
    assert set(reference.age_bands) == set(reference.walls.bands)
    for use in reference.rooms:
        assert 0.5 <= air(use=use).air_changes_per_h <= 3


def test_the_survey_wins() -> None:
    result = air(air_changes_per_h=0.7)
    assert (result.air_changes_per_h, result.assumed) == (0.7, False)
    assert "measured" in result.how
    assert air(air_changes_per_h=0.7, known={"air_changes_per_h": "assumed"}).assumed


def test_heat_recovery_is_handed_on() -> None:
    assert air(heat_recovery_ratio=0.8).heat_recovery_ratio == 0.8
    assert air(heat_recovery_ratio=0.8).flow_m3_per_h == air().flow_m3_per_h


def test_an_unknown_table_is_refused() -> None:
    reference = load()
    odd = replace(reference, defaults=replace(reference.defaults, air_change_table="guess"))
    with pytest.raises(UnknownAirChangeTable, match="'guess'"):
        room_air(rooms=[ROOM], house=HOUSE, reference=odd)
