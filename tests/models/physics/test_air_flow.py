import pytest

from models.physics.air_flow import outdoor_flow, room_envelope_flow, room_leak, vents_at_50pa, zone_infiltration


def infiltration(unbalanced_m3_per_h: float, envelope_m2: float = 200):
    return zone_infiltration(
        envelope_m2=envelope_m2,
        permeability_m3_per_h_m2=6,
        vents_50pa_m3_per_h=0,
        unbalanced_m3_per_h=unbalanced_m3_per_h,
        volume_flow_factor_ratio=0.05,
        facade_ratio=8,
    )


def test_vents_by_a_power_of_the_pressure() -> None:
    # twice the pressure at an exponent of 1 is twice the flow; at 50 Pa it is the flow itself
    assert vents_at_50pa(design_m3_per_h=10, design_pa=25, exponent=1) == 20
    assert vents_at_50pa(design_m3_per_h=10, design_pa=50, exponent=0.67) == 10


def test_too_much_supply_holds_the_wind_off_but_draws_nothing_in() -> None:
    # f_e goes by the square of the imbalance: 60 m3/h either way, 1 / (1 + 8 / 0.05 x (60 / 1200)^2) = 1 / 1.4
    out, in_ = infiltration(60), infiltration(-60)
    assert out.extract_factor_ratio == pytest.approx(1 / 1.4)
    assert in_.additional_m3_per_h == out.additional_m3_per_h
    assert in_.envelope_m3_per_h == in_.additional_m3_per_h
    assert out.envelope_m3_per_h == pytest.approx(out.additional_m3_per_h + 60)


def test_without_an_envelope_only_fans_bring_air() -> None:
    found = infiltration(30, envelope_m2=0)
    assert (found.additional_m3_per_h, found.envelope_m3_per_h) == (0, 30)
    assert (
        room_leak(
            zone_envelope_m3_per_h=30,
            zone_leaks_50pa_m3_per_h=0,
            zone_vents_50pa_m3_per_h=0,
            envelope_share_ratio=0,
            vents_share_ratio=0,
        )
        == 0
    )
    assert (
        room_envelope_flow(zone_envelope_m3_per_h=0, zone_additional_m3_per_h=0, leak_m3_per_h=0, direction_ratio=2)
        == 0
    )


def test_what_is_needed_beyond_fans_counts_where_leaks_are_less() -> None:
    assert outdoor_flow(through_envelope_m3_per_h=10, minimum_m3_per_h=24, technical_m3_per_h=5) == 19
    assert outdoor_flow(through_envelope_m3_per_h=10, minimum_m3_per_h=24, technical_m3_per_h=20) == 10
