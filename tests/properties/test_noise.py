"""What holds of noise whatever the numbers."""

from datetime import date

from hypothesis import given, strategies as st

from models.design.noise import noise_at
from models.reference.place import load_place
from models.survey.site import Position

NOW, BEFORE = date(2026, 11, 25), date(2025, 5, 28)
POWER = st.floats(40, 80)
DISTANCE = st.floats(0.5, 200)
HEIGHT = st.floats(-5, 30)
SURFACES = st.integers(1, 3)
DATES = st.sampled_from([NOW, BEFORE])
TINY_DB = 1e-9


def levels(*, windows, power, surfaces, on, count=1):
    position = Position.model_validate({
        "id": "p", "name": "p", "clear_back_mm": 0, "clear_left_mm": 0, "clear_right_mm": 0, "clear_front_mm": 0,
        "reflecting_surfaces": surfaces, "route_outside_m": 1, "route_inside_m": 1,
        "windows": [{"name": "w", "distance_m": d, "height_m": h, "view": v} for d, h, v in windows],
    })  # fmt: skip
    return [
        at.level_dba
        for at in noise_at(
            position=position,
            sound_power_dba=power,
            unit_height_m=1.0,
            count=count,
            nation="england",
            on=on,
            place_reference=load_place(),
        )
    ]


@given(POWER, DISTANCE, HEIGHT, SURFACES, DATES)
def test_a_barrier_never_raises_the_level(power, distance, height, surfaces, on):
    windows = [(distance, height, view) for view in ("in_sight", "partly_hidden", "hidden")]
    seen, partly, hidden = levels(windows=windows, power=power, surfaces=surfaces, on=on)
    assert hidden <= partly <= seen


@given(POWER, DISTANCE, DISTANCE, HEIGHT, SURFACES, DATES)
def test_farther_is_never_louder(power, one, other, height, surfaces, on):
    near, far = sorted((one, other))
    at_near, at_far = levels(
        windows=[(near, height, "in_sight"), (far, height, "in_sight")], power=power, surfaces=surfaces, on=on
    )
    assert at_far <= at_near + TINY_DB


@given(POWER, DISTANCE, HEIGHT, SURFACES, DATES, st.integers(1, 4))
def test_more_units_are_never_quieter(power, distance, height, surfaces, on, count):
    windows = [(distance, height, "in_sight")]
    (fewer,) = levels(windows=windows, power=power, surfaces=surfaces, on=on, count=count)
    (more,) = levels(windows=windows, power=power, surfaces=surfaces, on=on, count=count + 1)
    assert more >= fewer


@given(POWER, DISTANCE, HEIGHT, DATES)
def test_more_reflecting_surfaces_are_never_quieter(power, distance, height, on):
    (open_,), (wall,), (corner,) = (
        levels(windows=[(distance, height, "in_sight")], power=power, surfaces=n, on=on) for n in (1, 2, 3)
    )
    assert open_ <= wall <= corner
