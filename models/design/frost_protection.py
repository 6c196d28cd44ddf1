"""What keeps the water outdoors from freezing when the power is off: antifreeze valves or glycol, never both."""

from collections.abc import Iterator, Sequence
from functools import cache
from typing import Literal

from models.design.results import FrostProtection
from models.findings import Finding
from models.physics.fluids import freezing_temp_c, mass_ratio_of_volume
from models.sources import COMMON_PRACTICE, Why
from models.survey import House
from models.units import per_cent

SOURCE = COMMON_PRACTICE
WHY = Why(sentence="{method}: {reason}", source=SOURCE)

VALVES_PER_UNIT = 2
GLYCOL_VOLUME_RATIOS = (0.25, 0.30, 0.35, 0.40)
"""A quarter of the volume is the trade's usual mix; colder places take more (common practice, no source)."""
BELOW_DESIGN_K = 5.0
"""How far below the design outdoor temperature the first ice may form: colder nights come (common practice)."""


def frost_protection(
    *, house: House, count: int, choice: Literal["valves", "glycol"] | None, design_outdoor_temp_c: float
) -> FrostProtection:
    """Valves on flow and return of each unit, or glycol where the house cannot be watched or loses its power often.

    Common practice, no source. `choice` is what was asked for, None leaves it to the rule. Glycol replaces the
    inhibitor; the two ways are never mixed, since a valve that opens would drain the glycol. The mixture is the
    weakest whose first ice forms 5 K below the design outdoor temperature; beyond the strongest it is an *ask*.
    """
    reasons = []
    if house.power_cuts == "frequent":
        reasons.append("power cuts are frequent")
    if house.often_empty == "yes":
        reasons.append("the house is often empty")
    method = choice or ("glycol" if reasons else "valves")
    if method == "glycol":
        ratio, findings = _glycol(design_outdoor_temp_c)
        reason = "asked for" if choice == "glycol" else " and ".join(reasons)
        return FrostProtection("glycol", ratio, 0, reason, findings)
    unknown = [
        what
        for what, value in (("power cuts", house.power_cuts), ("an empty house", house.often_empty))
        if value == "unknown"
    ]
    if choice == "valves":
        reason = "asked for"
    elif unknown:
        reason = "nothing speaks against antifreeze valves"
    else:
        reason = "power cuts are rare and somebody is at home"
    return FrostProtection("valves", 0.0, VALVES_PER_UNIT * count, reason, tuple(_valves(reasons, unknown)))


def _valves(against: Sequence[str], unknown: Sequence[str]) -> Iterator[Finding]:
    """`against` are the reasons that speak for glycol, `unknown` what nobody asked the household."""
    if against:
        yield Finding(
            "valves_may_drain",
            "ask",
            "frost protection",
            f"{' and '.join(against)}: antifreeze valves would drain the circuit in a frost and the heating would "
            "stay off until somebody refills it",
            str(SOURCE),
            "fill with glycol instead of fitting valves",
        )
    if unknown:
        yield Finding(
            "frost_risk_not_asked",
            "note",
            "frost protection",
            f"nobody has asked about {' and '.join(unknown)}; antifreeze valves suit a house that is lived in",
            str(SOURCE),
            "ask the household",
        )


def _glycol(design_outdoor_temp_c: float) -> tuple[float, tuple[Finding, ...]]:
    """The share of the volume that is glycol, and what it asks for."""
    wanted_c = design_outdoor_temp_c - BELOW_DESIGN_K
    ratio, freezing_c = next((mixture for mixture in _mixtures() if mixture[1] <= wanted_c), _mixtures()[-1])
    findings = (
        Finding(
            "glycol_needs_care",
            "note",
            "frost protection",
            f"with {per_cent(ratio)} of the volume glycol the first ice forms at {freezing_c:.0f} °C; the mixture "
            "carries less heat, is tested every year and goes back to a licensed disposal when it is changed",
            str(SOURCE),
            "put the yearly test of the mixture into the service plan",
        ),
    )
    if freezing_c <= wanted_c:
        return ratio, findings
    return ratio, (
        Finding(
            "glycol_too_weak_for_place",
            "ask",
            "frost protection",
            f"at {per_cent(ratio)} of the volume the first ice forms at {freezing_c:.0f} °C, and the design "
            f"outdoor temperature is {design_outdoor_temp_c:.1f} °C",
            str(SOURCE),
            "ask the makers of the fluid and of the unit for a stronger mixture, or fit antifreeze valves",
        ),
        *findings,
    )


@cache
def _mixtures() -> tuple[tuple[float, float], ...]:
    """Each mixture: the share of the volume and the temperature of its first ice, the weakest first."""
    return tuple(
        (ratio, freezing_temp_c(mass_ratio=mass_ratio_of_volume(volume_ratio=ratio))) for ratio in GLYCOL_VOLUME_RATIOS
    )
