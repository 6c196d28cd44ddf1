from dataclasses import replace

import pytest

from models.design.u_values import UnknownRow, u_values
from models.reference import load
from models.survey import ByLayers, ByTable, ByU, GroundSlab, House, Layer, LayerPath

HOUSE = House(
    nation="england",
    place="Nether Fallow",
    altitude_m=96,
    weather_station="Birmingham",
    climate_region=6,
    dwelling_type="semi_detached",
    age_band="F",
    storeys=2,
    bedrooms=3,
    occupants=4,
    slab_area_m2=50,
    exposed_perimeter_m=21,
)
REFERENCE = load()
OF_2012 = replace(REFERENCE, defaults=replace(REFERENCE.defaults, wall_table="RdSAP2012"))


def one(construction, reference=REFERENCE, **house: object):
    found = u_values(constructions=[construction], house=HOUSE.model_copy(update=house), reference=reference)
    return found[construction.id]


def by_table(table: str, row: str, **more: object) -> ByTable:
    return ByTable(by="table", id="w", name="the wall", table=table, row=row, **more)


# RdSAP 10 Table 6 (from memory): cavity as built.
@pytest.mark.parametrize(("band", "u"), [("A", 1.5), ("F", 1.0), ("G", 0.6), ("I", 0.45), ("M", 0.26)])
def test_wall_by_age_band(band: str, u: float) -> None:
    result = one(by_table("wall_by_age", "cavity"), age_band=band)
    assert result.u_w_per_m2k == u
    assert "cavity" in result.how and f"age band {band}" in result.how
    assert result.source.standing == "from memory"


def test_stone_by_thickness_in_both_editions() -> None:
    stone = by_table("stone_by_thickness", "granite_or_whinstone", thickness_mm=500)
    # RdSAP 2012: 3.3 - 0.002 x 500 = 2.3
    assert one(stone, OF_2012).u_w_per_m2k == pytest.approx(2.3)
    assert one(stone, OF_2012).source.standing == "published"
    # RdSAP 10 (from memory): 45.315 x 500^-0.513; log10: 1.65624 - 0.513 x 2.69897 = 0.27167, 10^0.27167 = 1.869
    assert one(stone).u_w_per_m2k == pytest.approx(1.869, abs=0.001)
    sandstone = by_table("stone_by_thickness", "sandstone_or_limestone", thickness_mm=400)
    # 3.0 - 0.002 x 400 = 2.2
    assert one(sandstone, OF_2012).u_w_per_m2k == pytest.approx(2.2)


def test_dry_lining_adds_its_resistance() -> None:
    # RdSAP 2012: U = 1 / (1/2.3 + 0.17) = 1.6535
    stone = by_table("stone_by_thickness", "granite_or_whinstone", thickness_mm=500, dry_lined=True)
    assert one(stone, OF_2012).u_w_per_m2k == pytest.approx(1.6535, abs=5e-5)
    assert "dry lining" in one(stone).how
    party = by_table("element", "party wall: solid or timber frame", dry_lined=True)
    assert one(party).u_w_per_m2k == 0


# RdSAP 2012 Tables S9, S14, S15a (published).
@pytest.mark.parametrize(
    ("row", "u"),
    [
        ("roof: pitched; 100 mm at joists", 0.40),
        ("window: single glazed", 4.8),
        ("door: solid outside door age bands A to J", 3.0),
    ],
)
def test_described_elements(row: str, u: float) -> None:
    assert one(by_table("element", row)).u_w_per_m2k == u


def test_a_given_value_stays_and_says_how_it_is_known() -> None:
    given = ByU(by="u_value", id="w", name="the wall", u_w_per_m2k=1.05)
    assert one(given).u_w_per_m2k == 1.05
    assert not one(given).assumed
    assert one(given.model_copy(update={"known": {"u_w_per_m2k": "assumed"}})).assumed


def layered(*paths: LayerPath, **more: object) -> ByLayers:
    return ByLayers(by="layers", id="w", name="ceiling", layers=(Layer(name="one", paths=paths),), **more)


# EN ISO 6946:2017 surface resistances (from memory): Rsi 0.10 up, 0.13 level, 0.17 down; Rse 0.04, or Rsi indoors.
@pytest.mark.parametrize(
    ("heat_flow", "outside_surface", "surfaces"),
    [
        ("horizontal", "outside_air", 0.13 + 0.04),
        ("up", "outside_air", 0.10 + 0.04),
        ("down", "outside_air", 0.17 + 0.04),
        ("up", "inside_air", 0.10 + 0.10),
        ("down", "inside_air", 0.17 + 0.17),
    ],
)
def test_surfaces_of_layers(heat_flow: str, outside_surface: str, surfaces: float) -> None:
    path = LayerPath(resistance_m2k_per_w=1)
    result = one(layered(path, heat_flow=heat_flow, outside_surface=outside_surface))
    assert result.u_w_per_m2k == pytest.approx(1 / (1 + surfaces))
    assert result.findings == ()


def test_a_strong_bridge_is_asked_about() -> None:
    steel = LayerPath(share_ratio=0.02, thickness_mm=100, conductivity_w_per_mk=50)
    wool = LayerPath(share_ratio=0.98, thickness_mm=100, conductivity_w_per_mk=0.035)
    (finding,) = one(layered(steel, wool)).findings
    assert (finding.code, finding.strength, finding.where) == ("bridged_layers_out_of_range", "ask", "ceiling")


def test_an_assumed_layer_makes_the_construction_assumed() -> None:
    path = LayerPath(resistance_m2k_per_w=1, known={"resistance_m2k_per_w": "assumed"})
    assert one(layered(path)).assumed
    assert not one(layered(LayerPath(resistance_m2k_per_w=1))).assumed


def test_unknown_rows_are_named_with_those_there_are() -> None:
    with pytest.raises(UnknownRow, match=r"the wall.*'straw'.*solid_brick, cavity"):
        one(by_table("wall_by_age", "straw"))
    with pytest.raises(UnknownRow, match=r"'chalk'.*granite_or_whinstone"):
        one(by_table("stone_by_thickness", "chalk", thickness_mm=500))
    with pytest.raises(UnknownRow, match=r"'window: paper'.*window: single glazed"):
        one(by_table("element", "window: paper"))
    with pytest.raises(UnknownRow, match="needs its thickness_mm"):
        one(by_table("stone_by_thickness", "granite_or_whinstone"))


def test_ground_floors_are_left_to_the_ground() -> None:
    slab = GroundSlab(by="ground_slab", id="g", name="slab")
    assert u_values(constructions=[slab], house=HOUSE, reference=REFERENCE) == {}


@pytest.mark.parametrize(("thickness_mm", "strengths"), [(150, ["ask"]), (200, []), (1000, []), (1200, ["ask"])])
def test_stone_walls_outside_the_range_of_the_formula_are_asked_about(thickness_mm: int, strengths: list[str]) -> None:
    stone = by_table("stone_by_thickness", "sandstone_or_limestone", thickness_mm=thickness_mm)
    found = one(stone, age_band="B").findings
    assert [finding.strength for finding in found] == strengths
    assert all(finding.code == "stone_wall_thickness_out_of_range" for finding in found)


def test_a_straight_line_that_falls_to_nothing_is_no_answer() -> None:
    stone = by_table("stone_by_thickness", "sandstone_or_limestone", thickness_mm=1200)
    (finding,) = one(stone, OF_2012, age_band="B").findings
    assert (finding.code, finding.strength) == ("stone_wall_thickness_out_of_range", "stop")


def test_a_stone_wall_newer_than_the_formula_is_asked_about() -> None:
    stone = by_table("stone_by_thickness", "granite_or_whinstone", thickness_mm=500)
    assert one(stone, age_band="E").findings == ()
    (finding,) = one(stone, age_band="F").findings
    assert (finding.code, finding.strength) == ("stone_wall_newer_than_formula", "ask")
