"""The choice of flow temperature against a sum done by hand."""

import pytest

from models.design.flow_temperature import choose_flow_temperature
from models.design.results import FlowCandidate


@pytest.mark.oracle(
    question="flow_temperature", source="common practice, no source: purchase and fifteen years of running together",
    standing="common practice", tolerance="exact: whole pence",
)  # fmt: skip
def test_least_whole_cost_by_hand() -> None:
    # 40 °C: 3,400.00 + 15 x 820.00 = 15,700.00; 45 °C: 2,350.00 + 15 x 880.00 = 15,550.00;
    # 50 °C: 1,900.00 + 15 x 945.00 = 16,075.00
    given = ((40.0, 340000, 82000), (45.0, 235000, 88000), (50.0, 190000, 94500))
    choice = choose_flow_temperature(
        candidates=tuple(
            FlowCandidate(flow, "U", 1, 0, 0.0, purchase, 3.0, running, None, True, False, "")
            for flow, purchase, running in given
        ),
        delta_t_k=5,
        years=15,
    )
    assert [each.whole_cost_pence for each in choice.candidates] == [1570000, 1555000, 1607500]
    assert choice.flow_temp_c == 45
