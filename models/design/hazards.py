"""What can hurt somebody who works in this house, beyond what the unit, the cylinder and the supply say themselves."""

from collections.abc import Iterator

from models.findings import Finding
from models.reference import Reference
from models.sources import COMMON_PRACTICE, Source, Why
from models.survey import Hazard, Position, Survey
from models.units import counted

SOURCE = COMMON_PRACTICE
WHY = Why(sentence="{kind} at {where}", source=SOURCE)
ASBESTOS = Source("Control of Asbestos Regulations 2012", "reg. 5 and 11", "from memory")
DIGGING = Source("HSE, Avoiding danger from underground services, HSG47", standing="from memory")
HEIGHT = Source("Work at Height Regulations 2005", standing="from memory")
WATER_FITTINGS = Source("Water Supply (Water Fittings) Regulations 1999", standing="from memory")

ASBESTOS_BEFORE_YEAR = 2000
"""White asbestos was the last to be banned, in November 1999 (from memory)."""


def hazard_findings(*, survey: Survey, position: Position | None, reference: Reference) -> tuple[Finding, ...]:
    """The cautions of the house: each defers to the law, to licensed people and to the local rules.

    Control of Asbestos Regulations 2012; HSG47; Work at Height Regulations 2005. `position` is that of the unit.
    """
    found = [finding for hazard in survey.hazards for finding in _hazard(hazard)]
    found += _asbestos_not_looked_for(survey, reference)
    found += _loft(survey)
    if position is not None and position.route_buried_m > 0:
        found.append(
            Finding(
                "dig_with_care",
                "note",
                position.name,
                f"scan for buried cables, gas and water before the {position.route_buried_m:g} m of trench are dug, "
                "and dig by hand near them",
                str(DIGGING),
            )
        )
    return tuple(found)


def _hazard(hazard: Hazard) -> Iterator[Finding]:
    if hazard.kind == "asbestos":
        tested = hazard.samples > 0
        yield Finding(
            "asbestos_suspected" if tested else "asbestos_not_sampled",
            "ask",
            hazard.where,
            (
                f"asbestos is suspected and {counted(hazard.samples, 'sample')} "
                f"{'goes' if hazard.samples == 1 else 'go'} to a laboratory"
                if tested
                else "asbestos is suspected and no sample is planned"
            )
            + ": nobody drills, cuts or takes away that material before the result; the price holds if there is none",
            str(ASBESTOS),
            "wait for the result; where it is asbestos a licensed firm, or one trained for it where no licence is "
            "asked, removes it and the job is priced again"
            if tested
            else "plan the samples, or a survey for refurbishment, before the work is agreed",
        )
    elif hazard.kind == "lead_pipe":
        yield Finding(
            "lead_pipe",
            "note",
            hazard.where,
            "lead pipe carries drinking water: it is not joined to with lead solder, and disturbing it loosens scale",
            str(WATER_FITTINGS),
            "renew it with the works, and flush it before anybody drinks",
        )
    elif hazard.kind == "buried_services":
        yield Finding(
            "buried_services",
            "ask",
            hazard.where,
            "buried services are known here: have the drawings of their owners, scan, and dig by hand",
            str(DIGGING),
            "call the owners for their drawings before the ground works are booked, or keep the digging away from them",
        )
    elif hazard.kind == "work_at_height":
        yield Finding(
            "work_at_height",
            "note",
            hazard.where,
            "work at height: it is avoided where it can be, otherwise planned with a scaffold or tower and people "
            "trained for it",
            str(HEIGHT),
        )
    else:
        yield Finding(
            "hazard_recorded",
            "note",
            hazard.where,
            "the surveyor recorded a hazard here: assess it on site before work begins",
            str(SOURCE),
        )


def _asbestos_not_looked_for(survey: Survey, reference: Reference) -> Iterator[Finding]:
    if any(hazard.kind == "asbestos" for hazard in survey.hazards):
        return
    band = reference.age_bands[survey.house.age_band]
    if band.from_year is None or band.from_year < ASBESTOS_BEFORE_YEAR:
        yield Finding(
            "asbestos_not_looked_for",
            "note",
            "house",
            f"no asbestos is recorded in a house of {band.years}: flue rope, old boards, textured ceilings and floor "
            "tiles can hold it; what looks suspect is left alone and sampled",
            str(ASBESTOS),
            "look, and record either the hazard or that somebody competent has looked",
        )


def _loft(survey: Survey) -> Iterator[Finding]:
    tanks = [tank for tank in survey.existing.loft_tanks if tank.remove]
    if tanks:
        largest_l = max(tank.volume_l for tank in tanks)
        yield Finding(
            "loft_work",
            "note",
            "loft",
            f"{counted(len(tanks), 'tank')} of up to {largest_l:g} L {'comes' if len(tanks) == 1 else 'come'} out of "
            "the loft: drained first, over boards, with light, by two people, through the hatch or cut up",
            str(HEIGHT),
        )
