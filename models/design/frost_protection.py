"""What keeps the water outdoors from freezing when the power is off: antifreeze valves or glycol, never both."""

from typing import Literal

from models.design.results import FrostProtection
from models.findings import Finding
from models.physics.fluids import freezing_temp_c, mass_ratio_of_volume
from models.sources import COMMON_PRACTICE, Why
from models.survey import House

SOURCE = COMMON_PRACTICE
WHY = Why(sentence="{method}: {reason}", source=SOURCE)

VALVES_PER_UNIT = 2
GLYCOL_VOLUME_RATIO = 0.25
"""A quarter of the volume: the trade's usual mix (common practice, no source)."""


def frost_protection(*, house: House, count: int, choice: Literal["valves", "glycol"] | None) -> FrostProtection:
    """Valves on flow and return of each unit, or glycol where the house cannot be watched or loses its power often.

    Common practice, no source. `choice` is what was asked for, None leaves it to the rule. Glycol replaces the
    inhibitor; the two ways are never mixed, since a valve that opens would drain the glycol.
    """
    reasons = []
    if house.power_cuts == "frequent":
        reasons.append("power cuts are frequent")
    if house.often_empty == "yes":
        reasons.append("the house is often empty")
    findings: list[Finding] = []
    method: Literal["valves", "glycol"] = choice or ("glycol" if reasons else "valves")
    if choice == "valves" and reasons:
        findings.append(
            Finding(
                "valves_may_drain",
                "ask",
                "frost protection",
                f"{' and '.join(reasons)}: antifreeze valves would drain the circuit in a frost and the heating would "
                "stay off until somebody refills it",
                str(SOURCE),
                "fill with glycol instead of fitting valves",
            )
        )
    unknown = [
        what
        for what, value in (("power cuts", house.power_cuts), ("an empty house", house.often_empty))
        if value == "unknown"
    ]
    if method == "valves" and unknown:
        findings.append(
            Finding(
                "frost_risk_not_asked",
                "note",
                "frost protection",
                f"nobody has asked about {' and '.join(unknown)}; antifreeze valves suit a house that is lived in",
                str(SOURCE),
                "ask the household",
            )
        )
    if method == "glycol":
        freezing_c = freezing_temp_c(mass_ratio=mass_ratio_of_volume(volume_ratio=GLYCOL_VOLUME_RATIO))
        findings.append(
            Finding(
                "glycol_needs_care",
                "note",
                "frost protection",
                f"with a quarter of the volume glycol the first ice forms at {freezing_c:.0f} C; the mixture carries "
                "less heat, is tested every year and goes back to a licensed disposal when it is changed",
                str(SOURCE),
                "put the yearly test of the mixture into the service plan",
            )
        )
        reason = "asked for" if choice == "glycol" else " and ".join(reasons)
        return FrostProtection("glycol", GLYCOL_VOLUME_RATIO, 0, reason, tuple(findings))
    reason = "asked for" if choice == "valves" else "power cuts are rare and somebody is at home"
    if choice is None and unknown:
        reason = "nothing speaks against antifreeze valves"
    return FrostProtection("valves", 0.0, VALVES_PER_UNIT * count, reason, tuple(findings))
