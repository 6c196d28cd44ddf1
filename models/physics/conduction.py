"""Steady conduction: plane layers, floors on and over the ground, elements against earth, bare and insulated pipes.

EN ISO 6946:2017, EN ISO 13370, BS EN 12831-1:2017 Annex E, EN ISO 12241.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from models.frozen import quickly_made
from models.survey.house import Layer, LayerPath

MAX_SECTIONS = 4096
BRIDGED_LIMIT_RATIO = 1.5
_VOID_VENTILATION_J_PER_M3K = 1450.0
_DEEP_FLOOR_RATIO = 0.457


class TooManySections(ValueError):
    """Bridged layers that cut the construction into more sections than are worked out."""


@quickly_made
@dataclass(frozen=True, slots=True)
class LayersResistance:
    """Resistance of plane layers between two surfaces.

    Without bridged layers the two limits are equal. Where one is more than 1.5 times the other, the combined
    method does not hold (`in_range` is false).
    """

    upper_m2k_per_w: float
    lower_m2k_per_w: float
    total_m2k_per_w: float
    u_w_per_m2k: float
    in_range: bool


@dataclass(frozen=True, slots=True)
class SlabOnGround:
    """A solid floor on the ground or in it: characteristic dimension, equivalent thickness, U.

    `deep` says that it counts as a well insulated floor, since it is as thick as it is wide.
    """

    characteristic_m: float
    equivalent_thickness_m: float
    deep: bool
    u_w_per_m2k: float


@quickly_made
@dataclass(frozen=True, slots=True)
class FloorOverVoid:
    """A suspended floor: U of the ground under it, of the void's walls and draught together, and of the whole."""

    characteristic_m: float
    equivalent_thickness_m: float
    ground_u_w_per_m2k: float
    void_u_w_per_m2k: float
    u_w_per_m2k: float


@dataclass(frozen=True, slots=True)
class WallInGround:
    """A wall of a heated basement: equivalent thickness and U to the ground."""

    equivalent_thickness_m: float
    u_w_per_m2k: float


def layers_resistance(
    *, layers: Sequence[Layer], inside_surface_m2k_per_w: float, outside_surface_m2k_per_w: float
) -> LayersResistance:
    """U-value of plane layers, some of them bridged, by the combined method.

    EN ISO 6946:2017, 6.7.1 and 6.7.2: U = 2 / (R_upper + R_lower). Bridges in different layers are taken as crossing
    each other, so that every combination is a section. Not for metal that bridges insulation. Raises TooManySections
    above 4096 sections.
    """
    surfaces_m2k_per_w = inside_surface_m2k_per_w + outside_surface_m2k_per_w
    plain_m2k_per_w = surfaces_m2k_per_w
    lower_m2k_per_w = surfaces_m2k_per_w
    sections = [(1.0, 0.0)]
    for layer in layers:
        paths = [(path.share_ratio, path_resistance_m2k_per_w(path)) for path in layer.paths]
        if len(paths) == 1:
            plain_m2k_per_w += paths[0][1]
            lower_m2k_per_w += paths[0][1]
            continue
        if len(sections) * len(paths) > MAX_SECTIONS:
            raise TooManySections(f"layer '{layer.name}': its bridges make more than {MAX_SECTIONS} sections")
        sections = [(f * share, r + beside) for f, r in sections for share, beside in paths]
        if all(r > 0 for _, r in paths):
            lower_m2k_per_w += 1 / sum(share / r for share, r in paths)
    upper_m2k_per_w = 1 / sum(share / (plain_m2k_per_w + r) for share, r in sections)
    total_m2k_per_w = (upper_m2k_per_w + lower_m2k_per_w) / 2
    return LayersResistance(
        upper_m2k_per_w,
        lower_m2k_per_w,
        total_m2k_per_w,
        1 / total_m2k_per_w,
        upper_m2k_per_w <= BRIDGED_LIMIT_RATIO * lower_m2k_per_w,
    )


def path_resistance_m2k_per_w(path: LayerPath) -> float:
    """Thermal resistance of one material of a layer.

    EN ISO 6946:2017, 6.7.1.1: R = d / λ, or as given.
    """
    if path.resistance_m2k_per_w is not None:
        return path.resistance_m2k_per_w
    if path.thickness_mm is None or path.conductivity_w_per_mk is None:
        raise ValueError("a layer has either a thickness and a conductivity, or a resistance")
    return path.thickness_mm / 1000 / path.conductivity_w_per_mk


def slab_on_ground(
    *,
    area_m2: float,
    exposed_perimeter_m: float,
    wall_thickness_m: float,
    insulation_m2k_per_w: float,
    ground_conductivity_w_per_mk: float,
    inside_surface_m2k_per_w: float,
    outside_surface_m2k_per_w: float,
) -> SlabOnGround:
    """U-value of a solid floor on the ground, without edge insulation.

    EN ISO 13370, 7.1 and 8.1. B' = A / (P/2), d_t = w + λ (Rsi + Rf + Rse); by the logarithm where d_t < B', else as a
    well insulated floor. The floor's own slab and finish count as nothing unless they are in the insulation.
    """
    return _floor(
        area_m2 / (0.5 * exposed_perimeter_m),
        wall_thickness_m
        + ground_conductivity_w_per_mk * (inside_surface_m2k_per_w + insulation_m2k_per_w + outside_surface_m2k_per_w),
        0.0,
        ground_conductivity_w_per_mk,
    )


def basement_floor(
    *,
    area_m2: float,
    exposed_perimeter_m: float,
    depth_m: float,
    wall_thickness_m: float,
    insulation_m2k_per_w: float,
    ground_conductivity_w_per_mk: float,
    inside_surface_m2k_per_w: float,
    outside_surface_m2k_per_w: float,
) -> SlabOnGround:
    """U-value of the floor of a heated basement, to the ground.

    EN ISO 13370, heated basement: a slab with d_t + z/2 for d_t. `depth_m` is z, the floor below the ground outside.
    """
    return _floor(
        area_m2 / (0.5 * exposed_perimeter_m),
        wall_thickness_m
        + ground_conductivity_w_per_mk * (inside_surface_m2k_per_w + insulation_m2k_per_w + outside_surface_m2k_per_w),
        depth_m,
        ground_conductivity_w_per_mk,
    )


def basement_wall(
    *,
    depth_m: float,
    floor_wall_thickness_m: float,
    floor_insulation_m2k_per_w: float,
    resistance_m2k_per_w: float,
    ground_conductivity_w_per_mk: float,
    floor_surface_m2k_per_w: float,
    inside_surface_m2k_per_w: float,
    outside_surface_m2k_per_w: float,
) -> WallInGround:
    """U-value of a wall of a heated basement, to the ground.

    EN ISO 13370, heated basement: U = 2 λ / (π z) (1 + 0.5 d_t / (d_t + z)) ln(z / d_w + 1), d_w = λ (Rsi + Rw + Rse),
    d_t that of the basement's floor, with d_w for it where d_w is the smaller. `depth_m` is z, the floor below the
    ground outside, more than 0; `floor_wall_thickness_m` the wall that stands on the floor's edge.
    """
    floor_m = floor_wall_thickness_m + ground_conductivity_w_per_mk * (
        floor_surface_m2k_per_w + floor_insulation_m2k_per_w + outside_surface_m2k_per_w
    )
    wall_m = ground_conductivity_w_per_mk * (
        inside_surface_m2k_per_w + resistance_m2k_per_w + outside_surface_m2k_per_w
    )
    beside_m = min(floor_m, wall_m)
    u_w_per_m2k = (
        2
        * ground_conductivity_w_per_mk
        / (math.pi * depth_m)
        * (1 + 0.5 * beside_m / (beside_m + depth_m))
        * math.log(depth_m / wall_m + 1)
    )
    return WallInGround(wall_m, u_w_per_m2k)


def floor_over_void(
    *,
    area_m2: float,
    exposed_perimeter_m: float,
    wall_thickness_m: float,
    insulation_m2k_per_w: float,
    floor_above_ground_m: float,
    vent_area_m2_per_m: float,
    void_wall_u_w_per_m2k: float,
    wind_speed_m_per_s: float,
    wind_shielding_ratio: float,
    ground_conductivity_w_per_mk: float,
    inside_surface_m2k_per_w: float,
    outside_surface_m2k_per_w: float,
) -> FloorOverVoid:
    """U-value of a suspended floor over a void vented to outdoors, to outdoor air.

    RdSAP 2012 S5.5, the form of EN ISO 13370 for suspended floors: U = 1 / (2 Rsi + Rf + 1 / (Ug + Ux)),
    Ux = 2 h Uw / B + 1450 ε v fw / B. Uninsulated ground.
    """
    characteristic_m = area_m2 / (0.5 * exposed_perimeter_m)
    thickness_m = wall_thickness_m + ground_conductivity_w_per_mk * (
        inside_surface_m2k_per_w + outside_surface_m2k_per_w
    )
    ground_u_w_per_m2k = _uninsulated_u_w_per_m2k(ground_conductivity_w_per_mk, characteristic_m, thickness_m)
    void_u_w_per_m2k = (
        2 * floor_above_ground_m * void_wall_u_w_per_m2k
        + _VOID_VENTILATION_J_PER_M3K * vent_area_m2_per_m * wind_speed_m_per_s * wind_shielding_ratio
    ) / characteristic_m
    u_w_per_m2k = 1 / (
        2 * inside_surface_m2k_per_w + insulation_m2k_per_w + 1 / (ground_u_w_per_m2k + void_u_w_per_m2k)
    )
    return FloorOverVoid(characteristic_m, thickness_m, ground_u_w_per_m2k, void_u_w_per_m2k, u_w_per_m2k)


def _floor(characteristic_m: float, thickness_m: float, depth_m: float, conductivity_w_per_mk: float) -> SlabOnGround:
    as_slab_m = thickness_m + depth_m / 2
    deep = as_slab_m >= characteristic_m
    u_w_per_m2k = (
        conductivity_w_per_mk / (_DEEP_FLOOR_RATIO * characteristic_m + as_slab_m)
        if deep
        else _uninsulated_u_w_per_m2k(conductivity_w_per_mk, characteristic_m, as_slab_m)
    )
    return SlabOnGround(characteristic_m, thickness_m, deep, u_w_per_m2k)


def _uninsulated_u_w_per_m2k(conductivity_w_per_mk: float, characteristic_m: float, thickness_m: float) -> float:
    around_m = math.pi * characteristic_m
    return 2 * conductivity_w_per_mk / (around_m + thickness_m) * math.log1p(around_m / thickness_m)


def equivalent_ground_u_w_per_m2k(
    *, constants: Mapping[str, float], characteristic_m: float, depth_m: float, u_w_per_m2k: float
) -> float:
    """Equivalent U-value of an element against earth from its U-value as if it stood in air.

    BS EN 12831-1:2017, Annex E, function E.1: U_equiv = a / (b + (c1 + B')^n1 + (c2 + z)^n2 + (c3 + U + ΔU_TB)^n3) + d.
    `constants` holds a to n3; `characteristic_m` is B' (nothing to walls), `depth_m` the floor's level below ground z,
    `u_w_per_m2k` contains any thermal-bridge addition.
    """
    resisting = (
        constants["b"]
        + math.pow(constants["c1"] + characteristic_m, constants["n1"])
        + math.pow(constants["c2"] + depth_m, constants["n2"])
        + math.pow(constants["c3"] + u_w_per_m2k, constants["n3"])
    )
    return constants["a"] / resisting + constants["d"]


def insulated_pipe_loss_w_per_m(
    *,
    od_mm: float,
    insulation_mm: float,
    insulation_conductivity_w_per_mk: float,
    surface_coefficient_w_per_m2k: float,
    fluid_temp_c: float,
    air_temp_c: float,
) -> float:
    """Heat from a metre of insulated pipe in air, W/m.

    EN ISO 12241: q = π Δθ / (ln(D/d) / (2 λ) + 1 / (h D)). The pipe's wall and the film inside it are
    neglected. At 0 mm of insulation it is the bare pipe, q = π d h Δθ.
    """
    outer_m = (od_mm + 2 * insulation_mm) / 1000
    return (
        math.pi
        * (fluid_temp_c - air_temp_c)
        / (
            math.log(1 + 2 * insulation_mm / od_mm) / (2 * insulation_conductivity_w_per_mk)
            + 1 / (surface_coefficient_w_per_m2k * outer_m)
        )
    )


def buried_pipe_loss_w_per_m(
    *,
    od_mm: float,
    insulation_mm: float,
    insulation_conductivity_w_per_mk: float,
    depth_m: float,
    ground_conductivity_w_per_mk: float,
    fluid_temp_c: float,
    surface_temp_c: float,
) -> float:
    """Heat from a metre of insulated pipe in the earth, W/m.

    EN ISO 12241, underground pipes (clause from memory): R = ln(D/d) / (2 π λ) + arcosh(2 H / D) / (2 π λ_E). `depth_m`
    is H, from the ground's surface to the axis. One pipe by itself: a warm pipe beside it would lower its loss.
    """
    outer_m = (od_mm + 2 * insulation_mm) / 1000
    resistance_mk_per_w = (
        math.log(1 + 2 * insulation_mm / od_mm) / insulation_conductivity_w_per_mk
        + math.acosh(2 * depth_m / outer_m) / ground_conductivity_w_per_mk
    ) / (2 * math.pi)
    return (fluid_temp_c - surface_temp_c) / resistance_mk_per_w
