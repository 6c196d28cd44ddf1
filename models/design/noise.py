"""How loud the outdoor units are at every neighbouring window, and whether the nation's limit allows it."""

import math
from collections.abc import Iterable
from datetime import date

from models.design.results import NoiseAt
from models.findings import Finding
from models.reference.place import DistanceSteps, NoiseLimit, PlaceReference
from models.sources import Source, Why
from models.survey.site import NeighbourWindow, Position, told_apart
from models.units import counted

SOURCE = Source("MCS 020 a)", "point source over reflecting surfaces")
WHY = Why(
    sentence="At {where}, {distance_m:.1f} m away in a straight line, {sound_power_dba:.1f} dB(A) of sound power with "
    "a directivity of {directivity} and {barrier_db:.0f} dB of barrier make {level_dba:.1f} dB(A), by {method}.",
    source=SOURCE,
)
DIRECTIVITY = {1: 2, 2: 4, 3: 8}
"""Q by the number of reflecting surfaces: each halves the space into which the sound goes."""
SURFACES_BY_STANDING = {"free_standing": 1, "wall": 2, "corner": 3}
"""The planes that throw sound back at least, by how the unit stands: the ground and each wall beside it."""
NEAREST_DISTANCE_M = 1.0
"""The nearest distance at which the point source holds: the printed table of MCS 020 begins at 1 m."""
SMALL_MARGIN_DB = 1.0
UNSURE_ROUNDING_DB = 1.0
"""By how much a row of the printed table can be wrong of which even the rounding is not certain."""


def level_dba(*, sound_power_dba: float, directivity: int, distance_m: float, barrier_db: float) -> float:
    """Sound pressure level Lp = Lw + 10 lg(Q / (4 pi r2)) + barrier at a straight-line distance.

    MCS 020 a), point source. `barrier_db` is 0 or below; distance above 0 m. Raises ValueError otherwise.
    """
    if distance_m <= 0:
        raise ValueError(f"distance_m is {distance_m:g}, it must be above 0")
    if barrier_db > 0:
        raise ValueError(f"barrier_db is {barrier_db:g}; a barrier takes away, so it is 0 or below")
    return sound_power_dba + 10 * math.log10(directivity / (4 * math.pi * distance_m**2)) + barrier_db


def together_dba(levels: Iterable[float]) -> float:
    """Levels of several sources together, by adding their energies.

    ISO 9613-2:1996, clause 6 (clause from memory), sum of energies. At least one level.
    """
    return 10 * math.log10(sum(10 ** (level / 10) for level in levels))


def noise_at(
    *,
    position: Position,
    sound_power_dba: float,
    unit_height_m: float,
    count: int,
    nation: str,
    on: date,
    place_reference: PlaceReference,
) -> tuple[NoiseAt, ...]:
    """The level of `count` equal units at every neighbouring window, against the limit of nation and date.

    MCS 020 a). `sound_power_dba` is that of one unit, `unit_height_m` the height of its case. The distance is the
    straight line from the middle of the case to the middle of the window; the surveyed distance counts as
    horizontal. The unrounded level is compared with the limit. Under the older rule the level contains 40 dB(A) of
    background, and distance is taken from that edition's table in whole decibels; nearer than its first row by the
    formula. At a wall or in a corner at least its surfaces count. Raises NotYetInForce before the first dated limit.
    """
    limit, _ = place_reference.noise_limit_at(nation, on)
    barrier, _ = place_reference.barrier_at(on)
    together = together_dba([sound_power_dba] * count)
    directivity = DIRECTIVITY[_surfaces(position)]
    middle_m = _middle_m(position, unit_height_m)
    method = _method(limit)
    share_dba = _share_dba(limit)
    results = []
    names = told_apart([window.name for window in position.windows])
    for window, name in zip(position.windows, names, strict=True):
        barrier_db = barrier.by_view_db[window.view]
        distance_m = _straight_m(window, middle_m)
        own_dba = formula_dba = level_dba(
            sound_power_dba=together, directivity=directivity, distance_m=distance_m, barrier_db=barrier_db
        )
        step = _step(limit.steps, distance_m)
        if limit.steps is not None and step is not None:
            own_dba = together + limit.steps.by_directivity_db[directivity][step] + barrier_db
        level = own_dba if limit.background_dba is None else together_dba((own_dba, limit.background_dba))
        results.append(
            NoiseAt(
                where=name,
                distance_m=distance_m,
                sound_power_dba=together,
                directivity=directivity,
                barrier_db=barrier_db,
                level_dba=level,
                limit_dba=limit.limit_dba,
                passes=None if limit.limit_dba is None else level <= limit.limit_dba,
                pass_distance_m=None
                if share_dba is None
                else _pass_distance_m(limit.steps, together, directivity, barrier_db, share_dba),
                method=method,
                units_dba=own_dba,
                formula_dba=None if limit.steps is None else formula_dba,
            )
        )
    return tuple(results)


def pass_distance_m(*, sound_power_dba: float, directivity: int, barrier_db: float, limit_dba: float) -> float:
    """The straight-line distance at which the level falls to the limit.

    MCS 020 a), the point source turned round: r = sqrt(Q / (4 pi) x 10^((Lw + barrier - limit) / 10)).
    """
    return math.sqrt(directivity / (4 * math.pi) * 10 ** ((sound_power_dba + barrier_db - limit_dba) / 10))


def _surfaces(position: Position) -> int:
    return max(position.reflecting_surfaces, SURFACES_BY_STANDING[position.against])


def _step(steps: DistanceSteps | None, distance_m: float) -> int | None:
    """The row of the table that counts: the longest printed distance that is not longer; None nearer than the first."""
    if steps is None:
        return None
    return next((row for row in reversed(range(len(steps.distances_m))) if steps.distances_m[row] <= distance_m), None)


def _pass_distance_m(
    steps: DistanceSteps | None, sound_power_dba: float, directivity: int, barrier_db: float, limit_dba: float
) -> float:
    """The distance from which it passes: of a table the first row that does, beyond it by the formula."""
    if steps is not None:
        for distance_m, step_db in zip(steps.distances_m, steps.by_directivity_db[directivity], strict=True):
            if sound_power_dba + step_db + barrier_db <= limit_dba:
                return distance_m
    return pass_distance_m(
        sound_power_dba=sound_power_dba, directivity=directivity, barrier_db=barrier_db, limit_dba=limit_dba
    )


def noise_findings(
    *,
    position: Position,
    noise: tuple[NoiseAt, ...],
    nation: str,
    on: date,
    place_reference: PlaceReference,
    other_units: tuple[tuple[str, float], ...] = (),
    loudest_over_design_db: float = 0.0,
) -> tuple[Finding, ...]:
    """What to say about the levels at the windows of one position.

    MCS 020 a). `noise` is what `noise_at` gave for the same position, nation and date, in the order of its windows;
    `other_units` name and sound power, dB(A), of units that would be enough instead, the cheapest first.
    `loudest_over_design_db` is how much louder the loudest point of the maker's record is than what `noise` was
    worked out with: earlier editions take the highest power that is stated (from memory), so that a window which
    passes only by the difference is asked about.
    """
    limit, limit_record = place_reference.noise_limit_at(nation, on)
    barrier, barrier_record = place_reference.barrier_at(on)
    share_dba = _share_dba(limit)
    here, source = position.name, str(limit_record.source)
    quieter = _quieter(noise, share_dba, other_units)
    at_windows = [
        finding
        for window, at in zip(position.windows, noise, strict=True)
        for finding in _at_window(
            here, window, at, share_dba, barrier.confirmed, source, str(barrier_record.source), quieter
        )
    ]
    used = [limit_record] if noise else []
    if any(at.barrier_db < 0 for at in noise):
        used.append(barrier_record)
    reviews = [record.review_finding(on) for record in used]
    return (
        *_limit_findings(here, noise, limit, _nation(nation), on, source),
        *(_surfaces_findings(position) if noise else ()),
        *_steps_findings(here, noise, limit, share_dba, source),
        *_at_loudest(here, noise, share_dba, loudest_over_design_db, source),
        *at_windows,
        *[review for review in reviews if review is not None],
    )


def _limit_findings(
    here: str, noise: tuple[NoiseAt, ...], limit: NoiseLimit, nation: str, on: date, source: str
) -> Iterable[Finding]:
    """What is not known of the windows or of the limit."""
    if not noise:
        yield Finding(
            "no_neighbour_windows",
            "ask",
            here,
            "no neighbour's window is recorded for this position",
            source,
            "record every neighbouring window and door of a habitable room, or say that there is none",
        )
    elif limit.limit_dba is None:
        yield Finding(
            "noise_limit_not_known",
            "ask",
            here,
            f"the noise limit of {nation} on {on:%d %B %Y} is not known; the levels are shown only",
            source,
            "ask the planning authority for the limit and write it into the dated table",
        )
    elif not limit.confirmed:
        yield Finding(
            "noise_limit_not_confirmed",
            "ask",
            here,
            f"the limit of {limit.limit_dba:.1f} dB(A) of {nation} comes from a secondary source",
            source,
            "read the order itself, or ask the planning authority",
        )


def _surfaces_findings(position: Position) -> Iterable[Finding]:
    surfaces = _surfaces(position)
    if surfaces > position.reflecting_surfaces:
        louder_db = 10 * math.log10(DIRECTIVITY[surfaces] / DIRECTIVITY[position.reflecting_surfaces])
        yield Finding(
            "reflecting_surfaces_too_few",
            "ask",
            position.name,
            f"{counted(position.reflecting_surfaces, 'reflecting surface')} recorded for a unit "
            f"{_standing(position)}; {surfaces} are counted, which is {louder_db:.0f} dB louder",
            str(SOURCE),
            "count the ground and every wall beside the unit again",
        )


def _steps_findings(
    here: str, noise: tuple[NoiseAt, ...], limit: NoiseLimit, share_dba: float | None, source: str
) -> Iterable[Finding]:
    """What an unconfirmed table decides: *ask* where the formula would decide otherwise or its row is unsure."""
    steps = limit.steps
    if steps is None or steps.confirmed or share_dba is None:
        return
    for at in noise:
        row = _step(steps, at.distance_m)
        if row is None or at.formula_dba is None:
            continue
        decides = (at.units_dba <= share_dba) != (at.formula_dba <= share_dba)
        unsure = steps.distances_m[row] in steps.unsure_m and abs(share_dba - at.units_dba) <= UNSURE_ROUNDING_DB
        yield Finding(
            "noise_steps_not_confirmed",
            "ask" if decides or unsure else "note",
            here,
            f"at {at.where} the table of this edition gives the units {at.units_dba:.1f} dB(A), the formula itself "
            f"{at.formula_dba:.1f} dB(A); the table's whole decibels are from memory",
            source,
            "read the table of the edition, or go by the present one" if decides or unsure else "",
        )


def _at_loudest(
    here: str, noise: tuple[NoiseAt, ...], share_dba: float | None, louder_db: float, source: str
) -> Iterable[Finding]:
    if share_dba is None:
        return
    for at in noise:
        if at.passes and at.units_dba + louder_db > share_dba:
            yield Finding(
                "noise_passes_by_design_power",
                "ask",
                here,
                f"{at.where} passes with {at.sound_power_dba:.1f} dB(A) of sound power, that of the design day; "
                f"with the {at.sound_power_dba + louder_db:.1f} dB(A) of the loudest point of the maker's record the "
                f"units would be {at.units_dba + louder_db:.1f} dB(A) there, over the {share_dba:.1f} dB(A) that the "
                "limit leaves them; which power the method takes is not confirmed",
                source,
                "read which power the method takes, or choose a place that passes with the loudest",
            )


def _quieter(noise: tuple[NoiseAt, ...], share_dba: float | None, other_units: tuple[tuple[str, float], ...]) -> str:
    """The cheapest unit that would pass at every window, by as many dB as the loudest is too loud."""
    if share_dba is None or not noise:
        return "a quieter unit"
    allowed_dba = min(at.sound_power_dba - (at.units_dba - share_dba) for at in noise)
    fits = next((one for one in other_units if one[1] <= allowed_dba), None)
    if fits is None:
        most_dba = math.floor(allowed_dba * 10 + 1e-6) / 10
        return f"a unit of at most {most_dba:.1f} dB(A); none of the catalogue is that quiet and enough for the house"
    return f"{fits[0]}, whose {fits[1]:.1f} dB(A) pass at every window here"


def _at_window(
    here: str,
    window: NeighbourWindow,
    at: NoiseAt,
    share_dba: float | None,
    barrier_confirmed: bool,
    source: str,
    barrier_source: str,
    quieter: str,
) -> Iterable[Finding]:
    if window.distance_m <= NEAREST_DISTANCE_M:
        yield Finding(
            "neighbour_window_too_near",
            "stop",
            here,
            f"{at.where} is {window.distance_m:.2f} m away; the noise method begins beyond {NEAREST_DISTANCE_M:.1f} m",
            source,
            "choose another position",
        )
    if at.limit_dba is None or at.pass_distance_m is None or share_dba is None:
        return
    if at.barrier_db < 0 and not barrier_confirmed and at.passes and at.units_dba - at.barrier_db > share_dba:
        yield Finding(
            "noise_barrier_decides",
            "ask",
            here,
            f"{at.where} passes only by a barrier of {at.barrier_db:.0f} dB, whose value is not confirmed",
            barrier_source,
            "read the barrier steps of the method, or choose a place that needs none",
        )
    if not at.passes:
        yield Finding(
            "noise_too_loud",
            "stop",
            here,
            f"{at.level_dba:.1f} dB(A) at {at.where}, {at.distance_m:.1f} m in a straight line, is over the limit of "
            f"{at.limit_dba:.1f} dB(A); the units are {at.units_dba - share_dba:.2f} dB too loud for this distance and "
            f"would pass from {_up(at.pass_distance_m):.1f} m",
            source,
            f"move the unit, screen it from the window, or choose {quieter}",
        )
        return
    margin_db = share_dba - at.units_dba
    if margin_db < SMALL_MARGIN_DB:
        yield Finding(
            "noise_margin_small",
            "ask",
            here,
            f"at {at.where} it is only {margin_db:.2f} dB below "
            + (
                f"the limit of {at.limit_dba:.1f} dB(A)"
                if share_dba == at.limit_dba
                else f"the {share_dba:.1f} dB(A) that the limit of {at.limit_dba:.1f} dB(A) leaves "
                "beside the background"
            ),
            source,
            "measure the distance again, or choose a place further away",
        )


def _share_dba(limit: NoiseLimit) -> float | None:
    """What the limit leaves for the units once the background is taken off, by energy."""
    if limit.limit_dba is None or limit.background_dba is None:
        return limit.limit_dba
    return 10 * math.log10(10 ** (limit.limit_dba / 10) - 10 ** (limit.background_dba / 10))


def _middle_m(position: Position, unit_height_m: float) -> float | None:
    """Height of the middle of the case above the ground; None where a wall-mounted unit's height is not known."""
    if position.mount == "ground":
        return unit_height_m / 2
    return None if isinstance(position.mount_height_m, str) else position.mount_height_m + unit_height_m / 2


def _straight_m(window: NeighbourWindow, middle_m: float | None) -> float:
    """Straight-line distance; without the unit's height the horizontal one, which is louder, never quieter."""
    return window.distance_m if middle_m is None else math.hypot(window.distance_m, window.height_m - middle_m)


def _method(limit: NoiseLimit) -> str:
    name = "the point source formula; the nation's method is not known" if limit.limit_dba is None else limit.method
    background = "" if limit.background_dba is None else f", with {limit.background_dba:.0f} dB(A) of background"
    steps = ", unrounded; the rounding of its steps is not confirmed"
    if limit.steps is not None:
        steps = ", distance by its table in whole decibels (from memory)"
    return f"{name}{background}, straight line from the middle of the case{steps}"


def _standing(position: Position) -> str:
    return "in a corner" if position.against == "corner" else "at a wall"


def _nation(nation: str) -> str:
    return nation.replace("_", " ").title()


def _up(distance_m: float) -> float:
    return math.ceil(distance_m * 10 - 1e-6) / 10
