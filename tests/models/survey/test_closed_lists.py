"""Every word that a survey may use has its row: whoever adds one is told here which table wants it too."""

from collections.abc import Collection
from typing import get_args

import pytest

from models.catalogue import EmitterProduct
from models.design import cross_check, electrical, emitters, existing_system, hot_water, noise, u_values
from models.reference import load
from models.reference.place import GROUNDS, LOADS, NATIONS, VIEWS, load_place
from models.reference.weather import rain_of_nation
from models.survey import ByTable, HotWater, NeighbourWindow, Position
from models.survey.house import AgeBand, Nation
from models.survey.rooms import EmitterKind, RoomUse, UnheatedSpace
from models.survey.site import Ground, LoadKind
from models.survey.systems import ExistingSystem

BY_FACE = set(get_args(EmitterKind)) - {"panel", "floor_heating"}
"""A panel goes by its type, a floor by its area."""
BOUGHT = get_args(EmitterProduct.model_fields["kind"].annotation)


def words(part: type, field: str) -> set[str]:
    return set(get_args(part.model_fields[field].annotation))  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("wanted", "there"),
    [
        pytest.param(BY_FACE, emitters.FACE_W_PER_M2, id="output of an emitter by its face"),
        pytest.param(BY_FACE, emitters.FACE_WATER_L_PER_M2, id="water of an emitter by its face"),
        pytest.param(BOUGHT, emitters.WET_KINDS | emitters.DRY_KINDS, id="rooms for an emitter that is bought"),
        pytest.param(get_args(RoomUse), load().rooms, id="temperature and air changes by use"),
        pytest.param(get_args(UnheatedSpace), load().heat_loss.unheated_space_factor_ratio, id="unheated spaces"),
        pytest.param(get_args(AgeBand), load().age_bands, id="years of an age band"),
        pytest.param(get_args(AgeBand), load().walls.bands, id="walls by age band"),
        pytest.param(get_args(AgeBand), load().heat_loss.usual.w_per_m2_by_age_band, id="usual loss by age band"),
        pytest.param(get_args(AgeBand), load().heat_loss.ventilation.class_by_age_band, id="tightness by age band"),
        pytest.param(words(ByTable, "table"), u_values._LOOK_UP, id="tables of U-values"),
        pytest.param(get_args(Nation), NATIONS, id="nations"),
        pytest.param(get_args(Nation), load_place().planning, id="planning by nation"),
        pytest.param(get_args(Nation), load_place().noise_limits, id="noise by nation"),
        pytest.param(get_args(Nation), cross_check.REGIONS_OF_NATION, id="climate regions by nation"),
        pytest.param(get_args(Ground), GROUNDS, id="grounds"),
        pytest.param(get_args(LoadKind), LOADS, id="loads"),
        pytest.param(get_args(LoadKind), electrical.KINDS, id="words for loads"),
        pytest.param(words(NeighbourWindow, "view"), VIEWS, id="views of a window"),
        pytest.param(words(Position, "against"), noise.SURFACES_BY_STANDING, id="surfaces by how a unit stands"),
        pytest.param(words(HotWater, "use"), hot_water.USE_RATIO, id="use of hot water"),
    ],
)
def test_every_word_has_its_row(wanted: Collection[str], there: Collection[str]) -> None:
    assert set(wanted) == set(there)


def test_it_rains_in_every_nation() -> None:
    for nation in get_args(Nation):
        assert rain_of_nation(nation).rain_days


def test_rows_that_name_only_some_words_name_none_that_is_gone() -> None:
    assert set(existing_system.OPEN_FLAMES) <= words(ExistingSystem, "other_heater")
    assert words(ExistingSystem, "fuel") >= existing_system.WET_FUELS
    assert set(get_args(LoadKind)) >= electrical.HEATING
