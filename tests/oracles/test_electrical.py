"""Voltage drop against outside cases."""

import pytest

from models.catalogue import Cable
from models.design.electrical import check_cable, voltage_drop_v
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
