"""Weather compensation: which flow temperature belongs to which outdoor temperature.

BS EN 442-2:2014 characteristic equation over the load ratio, at constant flow rate.
"""

from math import floor

from models.design.results import CurvePoint, HeatingCurve
from models.physics.emission import flow_and_return_c
from models.physics.seasonal import load_ratio
from models.sources import Source, Why

SOURCE = Source("BS EN 442-2:2014", "characteristic equation with load ratio")
WHY = Why(
    sentence="at {outdoor_temp_c:g} °C outside the house takes {load_ratio:.2f} of its design load, so the flow runs "
    "at {flow_temp_c:.0f} °C and comes back at {return_temp_c:.0f} °C",
    source=SOURCE,
)


def heating_curve(
    *,
    flow_temp_c: float,
    delta_t_k: float,
    room_temp_c: float,
    design_outdoor_temp_c: float,
    base_temp_c: float,
    exponent: float,
) -> HeatingCurve:
    """The curve from design conditions up to the base temperature: both ends and every whole degree between.

    BS EN 442-2:2014, characteristic equation. `flow_temp_c` and `delta_t_k` are those at design; `exponent` that of
    the emitters on the whole. Raises ValueError unless the base lies above the design temperature.
    """
    between = range(floor(design_outdoor_temp_c) + 1, floor(base_temp_c) + 1)
    outdoor_temps_c = [design_outdoor_temp_c, *(float(degree) for degree in between if degree < base_temp_c)]
    return HeatingCurve(
        base_temp_c,
        exponent,
        tuple(
            curve_at(
                outdoor_temp_c=outdoor_c,
                flow_temp_c=flow_temp_c,
                delta_t_k=delta_t_k,
                room_temp_c=room_temp_c,
                design_outdoor_temp_c=design_outdoor_temp_c,
                base_temp_c=base_temp_c,
                exponent=exponent,
            )
            for outdoor_c in (*outdoor_temps_c, base_temp_c)
        ),
    )


def curve_at(
    *,
    outdoor_temp_c: float,
    flow_temp_c: float,
    delta_t_k: float,
    room_temp_c: float,
    design_outdoor_temp_c: float,
    base_temp_c: float,
    exponent: float,
) -> CurvePoint:
    """Flow and return temperature at one outdoor temperature.

    BS EN 442-2:2014, characteristic equation. From the base temperature up there is no load and the water is as warm
    as the room; colder than design the curve goes on rising.
    """
    ratio = load_ratio(
        outdoor_temp_c=outdoor_temp_c, base_temp_c=base_temp_c, design_outdoor_temp_c=design_outdoor_temp_c
    )
    flow_c, return_c = flow_and_return_c(
        load_ratio=ratio,
        flow_temp_c=flow_temp_c,
        return_temp_c=flow_temp_c - delta_t_k,
        room_temp_c=room_temp_c,
        exponent=exponent,
    )
    return CurvePoint(outdoor_temp_c, ratio, flow_c, return_c)
