"""Voltage drop and diversity against outside cases."""

import pytest

from models.catalogue import Cable
from models.design.electrical import check_cable, voltage_drop_v
from models.physics.diversity import after_diversity_a
from models.reference.place import load_place


@pytest.mark.oracle(
    question="electrical", source="BS 7671 Appendix 4 mV/A/m (values from memory), arithmetic computed",
    standing="second computation", tolerance="0.1 %: printed decimals",
)  # fmt: skip
@pytest.mark.parametrize("case_id", ["ELE-011", "ELE-012", "ELE-014", "ELE-015"])
def test_voltage_drop(cases, case_id):
    inputs, expected = cases[case_id]["inputs"], cases[case_id]["expected"]
    drop_v = voltage_drop_v(drop_mv_per_a_m=inputs["mV_A_m"], current_a=inputs["A"], length_m=inputs["m"])
    assert drop_v == pytest.approx(expected["V"], rel=1e-3)
    network = load_place().network
    assert inputs["U"] == network.nominal_voltage_v
    assert inputs["limit_percent"] / 100 == network.voltage_drop_limit_ratio
    cable = Cable(sku="CAB", size_mm2=4, clipped_a=100, buried_a=100, in_insulation_a=100,
                  drop_mv_per_a_m=inputs["mV_A_m"])  # fmt: skip
    check = check_cable(cable=cable, method="clipped", breaker_a=inputs["A"], current_a=inputs["A"],
                        length_m=inputs["m"], network=network)  # fmt: skip
    assert check.voltage_drop_ratio * 100 == pytest.approx(expected["percent"], rel=1e-3)
    assert check.passes is expected["ok"]


@pytest.mark.oracle(
    question="electrical", source="ENA, connection of heat pumps: 60 A at 230 V is 13.8 kVA, told within 28 days",
    standing="published", tolerance="exact",
)  # fmt: skip
def test_sixty_amperes_on_one_phase_are_thirteen_point_eight_kva():
    network = load_place().network
    assert network.apply_above_a * network.nominal_voltage_v / 1000 == pytest.approx(
        network.apply_above_single_phase_kva
    )
    assert (network.apply_above_a, network.apply_above_single_phase_kva, network.notify_within_days) == (60, 13.8, 28)


TABLE = {
    "source": "IET Guidance Note 1 and On-Site Guide, individual households; Electrician's Guide, 5th ed., Table 6.2",
    "standing": "published", "tolerance": "exact",
}  # fmt: skip


@pytest.mark.oracle(question="diversity", **TABLE)
@pytest.mark.parametrize(
    ("kind", "currents_a", "sockets", "counted_a"),
    [
        ("lighting", [6, 6, 6], 0, 11.88),  # 66 % of 18 A
        ("sockets", [32], 0, 32),  # the largest whole
        ("sockets", [20, 32, 32], 0, 52.8),  # 32 + 40 % of (32 + 20)
        ("cooker", [8], 0, 8),  # below 10 A whole
        ("cooker", [32], 0, 16.6),  # 10 + 30 % of 22
        ("cooker", [32], 1, 21.6),  # and 5 A for the socket outlet
        ("cooker", [20, 16], 0, 17.8),  # oven and hob together: 10 + 30 % of 26
        ("shower", [40], 0, 40),
        ("shower", [40, 37], 0, 77),  # first and second whole
        ("shower", [10, 40, 37, 20], 0, 84.5),  # 40 + 37 + 25 % of (20 + 10)
        ("immersion", [13, 13], 0, 26),  # water heaters with a thermostat: none allowed
        ("water_heater", [13], 0, 13),
        ("storage_heater", [12, 12, 8], 0, 32),  # none allowed
        ("floor_warming", [5, 6], 0, 11),  # none allowed
        ("fixed_heating", [8], 0, 8),  # up to 10 A whole
        ("fixed_heating", [8, 8, 8], 0, 17),  # 10 + 50 % of 14
    ],
)
def test_what_loads_of_one_kind_count_for(kind, currents_a, sockets, counted_a):
    allowance = load_place().diversity.household[kind]
    found_a = after_diversity_a(currents_a=currents_a, control_sockets=sockets, allowance=allowance)
    assert found_a == pytest.approx(counted_a)


@pytest.mark.oracle(
    question="diversity", source="BS 7671 722.311: each connecting point at its rated current, no diversity",
    standing="from memory", tolerance="exact",
)  # fmt: skip
def test_charge_points_count_whole():
    allowance = load_place().diversity.household["ev_charger"]
    assert after_diversity_a(currents_a=[32, 16], control_sockets=0, allowance=allowance) == pytest.approx(48)
