"""Diversity of a household: the shipped table covers every kind of load, and more load never counts for less."""

from typing import get_args

import pytest
from hypothesis import given, strategies as st

from models.physics.diversity import after_diversity_a, load_current_a
from models.reference.place import LOADS, load_place
from models.survey.site import Load, LoadKind

TABLE = load_place().diversity.household
CURRENTS_A = st.lists(st.floats(min_value=0.1, max_value=125), max_size=8)


def test_the_table_knows_every_kind_of_load():
    assert set(TABLE) == set(LOADS) == set(get_args(LoadKind))


def test_the_plate_stands_before_the_breaker():
    # 9.2 kW / 230 V = 40 A
    assert load_current_a(load=Load(kind="shower", rated_kw=9.2, breaker_a=45), voltage_v=230) == pytest.approx(40)
    assert load_current_a(load=Load(kind="shower", breaker_a=45), voltage_v=230) == 45
    assert load_current_a(load=Load(kind="shower"), voltage_v=230) is None


@pytest.mark.parametrize("kind", LOADS)
@given(currents_a=CURRENTS_A, more_a=st.floats(min_value=0, max_value=125), sockets=st.integers(0, 3))
def test_one_more_load_never_counts_for_less(kind, currents_a, more_a, sockets):
    allowance = TABLE[kind]
    before_a = after_diversity_a(currents_a=currents_a, control_sockets=sockets, allowance=allowance)
    after_a = after_diversity_a(currents_a=[*currents_a, more_a], control_sockets=sockets, allowance=allowance)
    assert before_a - 1e-9 <= after_a <= before_a + more_a + 1e-9


@pytest.mark.parametrize("kind", LOADS)
@given(currents_a=CURRENTS_A)
def test_diversity_never_adds(kind, currents_a):
    counted_a = after_diversity_a(currents_a=currents_a, control_sockets=0, allowance=TABLE[kind])
    assert counted_a <= sum(currents_a) + 1e-9
