"""U-values of layers: U-1 from CIBSE Guide A by Historic Scotland Technical Paper 10, U-3 by EN ISO 6946:2017 6.7.2."""

from datetime import date
from typing import Any

import pytest

from models.design.u_values import u_values
from models.estimate import Choices, estimate
from models.physics.conduction import layers_resistance
from models.reference import load
from models.survey import ByLayers, House, Layer, LayerPath, Survey

HOUSE = House(
    nation="england",
    place="Nether Fallow",
    altitude_m=96,
    weather_station="Birmingham",
    climate_region=6,
    dwelling_type="detached",
    age_band="D",
    storeys=2,
    bedrooms=3,
    occupants=4,
    slab_area_m2=50,
    exposed_perimeter_m=21,
)


def path(*, share: float = 1.0, d: float | None = None, lam: float | None = None, r: float | None = None) -> LayerPath:
    return LayerPath(
        share_ratio=share,
        thickness_mm=None if d is None else d * 1000,
        conductivity_w_per_mk=lam,
        resistance_m2k_per_w=r,
    )


def wall(layers: list[Layer]) -> ByLayers:
    return ByLayers(by="layers", id="w", name="wall", layers=tuple(layers))


@pytest.mark.oracle(
    question="u_values",
    source="CIBSE Guide A Tables 3.49/3.50 in Historic Scotland Technical Paper 10 (2011) p. 38",
    standing="published",
    tolerance="0.005 W/m2K: half a unit of the last printed digit",
    case="U-1",
)
def test_u_1(cases: Any) -> None:
    case = cases["U-1"]
    layers = [Layer(name=str(d), paths=(path(d=d, lam=lam),)) for d, lam in case["inputs"]["layers"]]
    found = u_values(constructions=[wall(layers)], house=HOUSE, reference=load())["w"]
    assert found.u_w_per_m2k == pytest.approx(case["expected"]["published"], abs=0.005)
    assert found.u_w_per_m2k == pytest.approx(case["expected"]["U"], abs=5e-5)


@pytest.mark.oracle(
    question="u_values",
    source="EN ISO 6946:2017 6.7.2, combined method; layer values from memory",
    standing="second computation",
    tolerance="0.0001 of a resistance or U: the case prints four to five decimals",
    case="U-3",
)
def test_u_3(cases: Any) -> None:
    case = cases["U-3"]
    given, expected = case["inputs"], case["expected"]
    layers = [
        Layer(
            name=str(number),
            paths=tuple(path(share=p.get("f", 1.0), d=p.get("d"), lam=p.get("lam"), r=p.get("R")) for p in paths),
        )
        for number, paths in enumerate(given["layers"])
    ]
    result = layers_resistance(
        layers=layers, inside_surface_m2k_per_w=given["Rsi"], outside_surface_m2k_per_w=given["Rse"]
    )
    assert result.upper_m2k_per_w == pytest.approx(expected["R_upper"], abs=1e-4)
    assert result.lower_m2k_per_w == pytest.approx(expected["R_lower"], abs=1e-4)
    assert result.u_w_per_m2k == pytest.approx(expected["U"], abs=1e-4)
    # the order of the layers is no matter, and the table's surfaces are the case's
    found = u_values(constructions=[wall(layers[::-1])], house=HOUSE, reference=load())["w"]
    assert found.u_w_per_m2k == pytest.approx(expected["U"], abs=1e-4)


@pytest.mark.oracle(
    question="u_values",
    source="CIBSE Guide A Tables 3.49/3.50 in Historic Scotland Technical Paper 10 (2011) p. 38",
    standing="published",
    tolerance="0.005 W/m2K: half a unit of the last printed digit",
    case="U-1",
    through_estimate=True,
)
def test_u_1_through_the_estimate(cases: Any, rules: Any, households: Any) -> None:
    case = cases["U-1"]
    record = households["smallest"]["survey"]
    layers = [
        {"name": str(number), "paths": [{"thickness_mm": d * 1000, "conductivity_w_per_mk": lam}]}
        for number, (d, lam) in enumerate(case["inputs"]["layers"])
    ]
    brick = {"by": "layers", "id": "wall", "name": "solid brick", "layers": layers}
    survey = Survey.model_validate(record | {"constructions": [brick]})
    design = estimate(survey, Choices(), rules, today=date(2026, 11, 25)).design
    assert design.u_values["wall"].u_w_per_m2k == pytest.approx(case["expected"]["published"], abs=0.005)
    # 18 m x 2.4 m of it and 0.1 W/m2K of bridges, from 21 °C to -3.4 °C (Birmingham, at the station's height)
    (loss,) = design.heat_loss.rooms[0].elements
    assert loss.loss_w == pytest.approx((case["expected"]["U"] + 0.1) * 43.2 * 24.4, abs=43.2 * 24.4 * 5e-5)
