"""Outdoor air through the envelope of a house and of its rooms: leaks, vents, fans.

BS EN 12831-1:2017, functions 15 to 31.
"""

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ZoneInfiltration:
    """What comes in through the whole envelope: by wind and buoyancy, and together with what fans draw in."""

    extract_factor_ratio: float
    additional_m3_per_h: float
    envelope_m3_per_h: float


def vents_at_50pa(*, design_m3_per_h: float, design_pa: float, exponent: float) -> float:
    """Flow of background vents at 50 Pa from that at their design pressure, m3/h.

    BS EN 12831-1:2017, function 25: q_ATD,50 = q_ATD,design (50 / Δp)^v. `exponent` is v, 0.5 to 1.
    """
    return design_m3_per_h * math.pow(50 / design_pa, exponent)


def zone_infiltration(
    *,
    envelope_m2: float,
    permeability_m3_per_h_m2: float,
    vents_50pa_m3_per_h: float,
    unbalanced_m3_per_h: float,
    volume_flow_factor_ratio: float,
    facade_ratio: float,
) -> ZoneInfiltration:
    """Outdoor air through the envelope of a zone.

    BS EN 12831-1:2017, functions 26 to 28: q_env = max(q_exh + q_comb - q_sup, 0) + q_inf-add,
    q_inf-add = (q_env50 A_env + q_ATD,50) f_qv f_e, f_e = 1 / (1 + f_fac / f_qv (unbalanced / (q_env50 A_env +
    q_ATD,50))^2). `unbalanced_m3_per_h` is extract and combustion air less supply, negative where more is blown in.
    An envelope without leaks or vents lets in nothing by itself.
    """
    at_50pa_m3_per_h = permeability_m3_per_h_m2 * envelope_m2 + vents_50pa_m3_per_h
    drawn_m3_per_h = max(unbalanced_m3_per_h, 0.0)
    if at_50pa_m3_per_h <= 0:
        return ZoneInfiltration(0.0, 0.0, drawn_m3_per_h)
    pressed = unbalanced_m3_per_h / at_50pa_m3_per_h
    factor = 1 / (1 + facade_ratio / volume_flow_factor_ratio * pressed * pressed)
    additional_m3_per_h = at_50pa_m3_per_h * volume_flow_factor_ratio * factor
    return ZoneInfiltration(factor, additional_m3_per_h, drawn_m3_per_h + additional_m3_per_h)


def room_leak(
    *,
    zone_envelope_m3_per_h: float,
    zone_leaks_50pa_m3_per_h: float,
    zone_vents_50pa_m3_per_h: float,
    envelope_share_ratio: float,
    vents_share_ratio: float,
) -> float:
    """A room's share of what comes in through the envelope, its leaks and its vents together, m3/h.

    BS EN 12831-1:2017, functions 19 to 24: a_ATD = q_ATD,50 / (q_ATD,50 + q_env50 A_env);
    q_leak = (1 - a_ATD) q_env A_env,i / A_env, q_ATD,i = a_ATD q_env q_ATD,design,i / q_ATD,design. Nothing without
    leaks and vents.
    """
    together_m3_per_h = zone_vents_50pa_m3_per_h + zone_leaks_50pa_m3_per_h
    if together_m3_per_h <= 0:
        return 0.0
    vents_ratio = zone_vents_50pa_m3_per_h / together_m3_per_h
    return zone_envelope_m3_per_h * ((1 - vents_ratio) * envelope_share_ratio + vents_ratio * vents_share_ratio)


def room_envelope_flow(
    *,
    zone_envelope_m3_per_h: float,
    zone_additional_m3_per_h: float,
    leak_m3_per_h: float,
    direction_ratio: float,
) -> float:
    """Outdoor air through the envelope of one room with the wind on it, m3/h.

    BS EN 12831-1:2017, function 18: q_env,i = q_inf-add / q_env min(q_env; q_leak+ATD,i f_dir) +
    (q_env - q_inf-add) / q_env q_leak+ATD,i. The wind's part cannot be more than comes into the whole zone.
    """
    if zone_envelope_m3_per_h <= 0:
        return 0.0
    wind_ratio = zone_additional_m3_per_h / zone_envelope_m3_per_h
    blown_m3_per_h = min(zone_envelope_m3_per_h, leak_m3_per_h * direction_ratio)
    return wind_ratio * blown_m3_per_h + (1 - wind_ratio) * leak_m3_per_h


def outdoor_flow(*, through_envelope_m3_per_h: float, minimum_m3_per_h: float, technical_m3_per_h: float) -> float:
    """Outdoor air that counts for a room: what leaks in, or what is needed beyond fans and ducts, m3/h.

    BS EN 12831-1:2017, functions 15, 16 and 29: max(q_env; q_min - q_techn), q_techn the larger of supply and extract.
    """
    return max(through_envelope_m3_per_h, minimum_m3_per_h - technical_m3_per_h)
