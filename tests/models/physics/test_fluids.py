import csv
from pathlib import Path

import pytest

from models.physics.fluids import expansion_ratio, fluid, freezing_temp_c, mass_ratio_of_volume, propylene_glycol, water

DATA = Path(__file__).parents[2] / "oracles/data"


def rows(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader((DATA / name).read_text().splitlines()))


@pytest.mark.parametrize("row", rows("water_properties.csv"), ids=lambda row: row["t_C"])
def test_water_follows_the_table(row: dict[str, str]) -> None:
    """IAPWS-95 by CoolProp, second computation; 0.2 % for density and heat capacity, 0.5 % for viscosity."""
    found = water(temp_c=float(row["t_C"]))
    assert found.density_kg_per_m3 == pytest.approx(float(row["rho_IAPWS95_CoolProp"]), rel=0.002)
    assert found.heat_capacity_j_per_kgk == pytest.approx(float(row["cp_IAPWS95_CoolProp_J_kgK"]), rel=0.002)
    assert found.viscosity_pa_s * 1000 == pytest.approx(float(row["mu_IAPWS_CoolProp_mPas"]), rel=0.005)


@pytest.mark.parametrize(
    "row", rows("propylene_glycol_properties.csv"), ids=lambda row: f"{row['frac_percent']}-{row['t_C']}"
)
def test_glycol_follows_the_table(row: dict[str, str]) -> None:
    """Melinder (2010), mass-fraction columns, second computation; the refit may be off by 0.1, 0.1 and 0.5 %."""
    found = propylene_glycol(temp_c=float(row["t_C"]), mass_ratio=float(row["frac_percent"]) / 100)
    assert found.density_kg_per_m3 == pytest.approx(float(row["rho_massfrac_Melinder"]), rel=0.001)
    assert found.heat_capacity_j_per_kgk == pytest.approx(float(row["cp_massfrac_Melinder"]), rel=0.001)
    assert found.viscosity_pa_s * 1000 == pytest.approx(float(row["mu_mPas_massfrac_Melinder"]), rel=0.005)


def test_the_general_library_agrees_over_the_whole_range() -> None:
    import CoolProp.CoolProp as coolprop  # takes seconds

    for temp_c in (-5, 0.5, 20, 50, 79):
        for ratio in (0.0, 0.2, 0.35, 0.5):
            if ratio == 0 and temp_c < 0:
                continue
            name = f"INCOMP::MPG[{ratio}]" if ratio else "Water"
            found = fluid(temp_c=temp_c, glycol_mass_ratio=ratio)
            rho, cp, mu = (coolprop.PropsSI(key, "T", temp_c + 273.15, "P", 2e5, name) for key in ("D", "C", "V"))
            assert found.density_kg_per_m3 == pytest.approx(rho, rel=0.002)
            assert found.heat_capacity_j_per_kgk == pytest.approx(cp, rel=0.002)
            assert found.viscosity_pa_s == pytest.approx(mu, rel=0.005)


@pytest.mark.parametrize("temp_c", [-0.1, 100.1])
def test_water_outside_its_range_is_refused(temp_c: float) -> None:
    with pytest.raises(ValueError, match="water properties reach from 0 to 100 C"):
        water(temp_c=temp_c)


def test_glycol_outside_its_range_is_refused() -> None:
    with pytest.raises(ValueError, match="-10 to 80 C, not 81 C"):
        propylene_glycol(temp_c=81, mass_ratio=0.3)
    with pytest.raises(ValueError, match=r"0.2 to 0.5 of the mass, not 0.1"):
        propylene_glycol(temp_c=20, mass_ratio=0.1)
    with pytest.raises(ValueError, match=r"frozen below -7"):
        propylene_glycol(temp_c=-9, mass_ratio=0.2)


def test_a_quarter_of_the_volume_is_a_little_more_of_the_mass() -> None:
    """Hand arithmetic: 0.25 x 1036 / (0.25 x 1036 + 0.75 x 998.2) = 259 / 1007.65 = 0.2570."""
    assert mass_ratio_of_volume(volume_ratio=0.25) == pytest.approx(0.2570, abs=0.0001)
    assert mass_ratio_of_volume(volume_ratio=0) == 0


def test_glycol_freezes_where_the_handbooks_say() -> None:
    """About -13 C at 30 % of the mass, -34 C at 50 %: ASHRAE Fundamentals, from memory; 2 K."""
    assert freezing_temp_c(mass_ratio=0.3) == pytest.approx(-13, abs=2)
    assert freezing_temp_c(mass_ratio=0.5) == pytest.approx(-33.5, abs=2)


def test_mixtures_grow_more_than_water() -> None:
    assert expansion_ratio(fill_temp_c=10, maximum_temp_c=60, glycol_mass_ratio=0.25) > expansion_ratio(
        fill_temp_c=10, maximum_temp_c=60, glycol_mass_ratio=0
    )
