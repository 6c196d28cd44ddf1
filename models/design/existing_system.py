"""What of today's heating stays, what goes with it, and what it already tells about the new one."""

from collections.abc import Iterator

from models.catalogue import Cylinder
from models.design.results import EmitterSchedule, FlowChoice, HeatLoss
from models.findings import Finding
from models.sources import COMMON_PRACTICE, Source, Why
from models.survey import Survey
from models.units import counted

SOURCE = COMMON_PRACTICE
WHY = Why(sentence="the flow temperature of today against the {flow_temp_c:g} °C of the design", source=SOURCE)
COMBUSTION = Source("Approved Document J (2010 edition)", "combustion air and flues", "from memory")
REFRIGERANT = Source("Regulation (EU) 517/2014 as retained, fluorinated greenhouse gases", "recovery", "from memory")

LOW_TEMPERATURE_C = 45.0
"""A house that was warm with no hotter water has emitters made for a heat pump: common practice, no source."""
HOTTER_BY_K = 2.5
"""Half a step between the flow temperatures tried."""
HEAVY_SLUDGE_MG_PER_L = 300.0
"""Water with more in it than this is black and has settled in emitters: common practice, no source."""
WET_FUELS = frozenset({"heat_pump", "hybrid"})
"""What heats by water without a boiler."""
OPEN_FLAMES = {"stove": "the stove", "open_fire": "the open fire"}


def existing_findings(
    *, survey: Survey, heat_loss: HeatLoss, flow: FlowChoice, emitters: EmitterSchedule, cylinder: Cylinder | None
) -> tuple[Finding, ...]:
    """What an engineer says about the stove, the range cooker, the heat pump, the water and the boiler of today.

    Common practice, no source; Approved Document J for combustion air. Heat of a stove, fire or range cooker counts as
    0 W. `cylinder` is the new one.
    """
    return (
        *_no_pipes(survey, emitters),
        *_stove(survey),
        *_range_cooker(survey, heat_loss, emitters),
        *_heat_pump(survey),
        *_oil_tank(survey),
        *_flow_today(survey, flow, emitters),
        *_circuit(survey),
        *_sludge(survey),
        *_boiler_output(survey, heat_loss),
        *_old_store(survey, cylinder),
    )


def _circuit(survey: Survey) -> Iterator[Finding]:
    existing = survey.existing
    if existing.boiler == "none" or existing.fuel in WET_FUELS:
        return
    if existing.circuit == "open_vented":
        today = sum(len(room.emitters) for room in survey.rooms)
        yield Finding(
            "open_vented_becomes_sealed",
            "note",
            "heating pipes",
            f"the heating is open-vented and becomes sealed: its pipes and its {counted(today, 'emitter')} were never "
            "under pressure, and a joint that was dry can weep",
            str(SOURCE),
            "test what stays under pressure before the boiler comes out, and agree who pays for a joint that fails",
        )
    if existing.circuit != "sealed" and existing.boiler != "combi" and not existing.loft_tanks:
        yield Finding(
            "feed_tank_not_recorded",
            "ask",
            "loft",
            "no feed and expansion tank is recorded, and "
            + (
                "an open-vented circuit has one"
                if existing.circuit == "open_vented"
                else "nobody saw whether the circuit is open-vented"
            )
            + ": taking it out is not priced",
            str(SOURCE),
            "look in the loft and record its tanks, or record that the circuit is sealed",
        )


def _sludge(survey: Survey) -> Iterator[Finding]:
    sludge = survey.existing.sludge_mg_per_l
    if sludge == "unknown" or sludge <= HEAVY_SLUDGE_MG_PER_L:
        return
    yield Finding(
        "sludge_heavy",
        "note",
        "heating pipes",
        f"the water of today holds {sludge:,.0f} mg/L, over {HEAVY_SLUDGE_MG_PER_L:,.0f} mg/L: one flush may not clear "
        "what has settled, and an emitter half full of it gives less than its plate says",
        str(SOURCE),
        "dose and flush emitter by emitter with a magnet before the boiler comes out, and test the water again",
    )


def _boiler_output(survey: Survey, heat_loss: HeatLoss) -> Iterator[Finding]:
    output_kw = survey.existing.boiler_output_kw
    if output_kw == "unknown" or output_kw * 1000 >= heat_loss.heat_loss_w:
        return
    yield Finding(
        "boiler_smaller_than_loss",
        "ask",
        "existing system",
        f"the boiler of today gives {output_kw:g} kW and the house is said to lose {heat_loss.heat_loss_w:,.0f} W",
        str(SOURCE),
        "ask whether the house was warm in the coldest weather without another heater; where it was, look again at the "
        "heat loss, else at the plate of the boiler",
    )


def _old_store(survey: Survey, cylinder: Cylinder | None) -> Iterator[Finding]:
    old = survey.existing.cylinder
    if old is None or cylinder is None or old.kind == "thermal_store" or old.volume_l == "unknown":
        return
    if cylinder.volume_l < old.volume_l:
        yield Finding(
            "store_smaller_than_today",
            "note",
            "hot water",
            f"the new store holds {cylinder.volume_l:.0f} L, the one of today {old.volume_l:.0f} L, and a heat pump's "
            "store is not as hot",
            str(SOURCE),
            "ask how much of it is used, and choose a larger cylinder where the household would miss it",
        )


def _no_pipes(survey: Survey, emitters: EmitterSchedule) -> Iterator[Finding]:
    """A house heated by room heaters has no heating pipes that could stay: *stop* where a new run was only assumed."""
    existing = survey.existing
    if existing.boiler != "none" or existing.fuel in WET_FUELS or any(room.emitters for room in survey.rooms):
        return
    added = [(room.name, step.run_assumed) for room in emitters.rooms for step in room.steps if step.action == "add"]
    rooms = len({name for name, _ in added})
    assumed = any(run_assumed for _, run_assumed in added)
    yield Finding(
        "no_heating_pipes",
        "stop" if assumed or not added else "ask",
        "heating pipes",
        "no boiler and no emitter on water was found: there are no heating pipes that could stay. "
        f"{counted(len(added), 'new emitter')} in {counted(rooms, 'room')} "
        f"{'is' if len(added) == 1 else 'are'} priced with the run "
        + ("assumed" if assumed else "surveyed")
        + " for each, mains besides are neither designed nor priced, nor is taking out what heats the rooms today with "
        "its circuits and its off-peak meter",
        str(SOURCE),
        "draw the pipes from the cylinder to each emitter, enter each emitter's run from there, and quote the taking "
        "out apart",
    )


def _stove(survey: Survey) -> Iterator[Finding]:
    what = OPEN_FLAMES.get(survey.existing.other_heater)
    if what is None:
        return
    yield Finding(
        "stove_kept",
        "note",
        "existing system",
        f"{what} stays and its heat counts as 0 W: it needs its combustion air, a sound flue and a carbon monoxide "
        "alarm; draught proofing and fans must not take its air",
        str(COMBUSTION),
        "keep its air vent open, have flue and air looked at by somebody registered for solid fuel, and record its "
        "flue among the openings near the unit",
    )
    extracts = [room.name for room in survey.rooms if room.extract_m3_per_h == "unknown" or room.extract_m3_per_h]
    if extracts:
        yield Finding(
            "stove_beside_extract",
            "ask",
            ", ".join(extracts),
            f"air is taken out in {counted(len(extracts), 'room')} while {what} burns: its "
            "fumes can be drawn into the house",
            str(COMBUSTION),
            "a spillage test with all fans running, by somebody registered for solid fuel, before the quote stands",
        )


def _range_cooker(survey: Survey, heat_loss: HeatLoss, emitters: EmitterSchedule) -> Iterator[Finding]:
    existing = survey.existing
    if existing.boiler == "range_cooker":
        kitchens = {room.id for room in survey.rooms if room.use == "kitchen"}
        needed_w = sum(room.heat_loss_w for room in heat_loss.rooms if room.room_id in kitchens)
        given_w = sum(room.output_w for room in emitters.rooms if room.room_id in kitchens)
        yield Finding(
            "range_cooker_goes",
            "ask",
            "existing system",
            f"the range cooker heats the kitchen and cooks: both are lost with it. The kitchen needs {needed_w:,.0f} W "
            f"and its emitters give {given_w:,.0f} W without it; a cooker and its supply are not priced",
            str(SOURCE),
            "agree with the household what they will cook on, and add an electric cooker to the demand of the house",
        )
    if existing.other_heater == "range_cooker":
        yield Finding(
            "range_cooker_stays",
            "ask" if existing.fuel == "oil" and existing.oil_tank_goes else "note",
            "existing system",
            "the range cooker stays and its heat counts as 0 W"
            + (
                ": its oil tank and line must stay too, and the survey has the tank taken away"
                if existing.fuel == "oil" and existing.oil_tank_goes
                else "; its fuel, flue and combustion air stay"
            ),
            str(COMBUSTION),
            "settle what it burns, and have its flue and air looked at by somebody registered for that fuel",
        )


def _heat_pump(survey: Survey) -> Iterator[Finding]:
    if survey.existing.fuel == "heat_pump":
        yield Finding(
            "existing_heat_pump",
            "ask",
            "existing system",
            "a heat pump is replaced: its refrigerant is recovered by a certified person before it is moved, and "
            "schemes that pay for the end of a fossil boiler may not pay here",
            str(REFRIGERANT),
            "find out why it goes, whether its base, pipe and cable may stay, and ask the scheme in writing",
        )
    elif survey.existing.fuel == "hybrid":
        yield Finding(
            "existing_hybrid",
            "ask",
            "existing system",
            "a hybrid is replaced: the boiler's fuel is closed by a registered person, the refrigerant of its heat "
            "pump is recovered by a certified one; the design heats the house without either",
            str(REFRIGERANT),
            "find out which half goes, and whether the scheme pays for a house that has a heat pump already",
        )


def _oil_tank(survey: Survey) -> Iterator[Finding]:
    """A tank that is to go from a house that burns no oil: left over from before, or a slip of the pen."""
    existing = survey.existing
    if existing.oil_tank_goes and existing.fuel != "oil":
        yield Finding(
            "oil_tank_without_oil",
            "ask",
            "existing system",
            f"an oil tank is to go, and the house is heated with {existing.fuel.replace('_', ' ')}: taking it away is "
            "not priced",
            str(SOURCE),
            "look whether there is a tank; a competent contractor empties it and quotes for it apart",
        )


def _flow_today(survey: Survey, flow: FlowChoice, emitters: EmitterSchedule) -> Iterator[Finding]:
    today_c = survey.existing.flow_temp_c
    if today_c == "unknown":
        return
    changed = sum(room.action not in ("keep", "none_needed") for room in emitters.rooms)
    if flow.flow_temp_c > today_c + HOTTER_BY_K:
        yield Finding(
            "warmer_than_today",
            "ask",
            "existing system",
            f"the house was warm in the coldest weather with a flow of {today_c:g} °C, and the design asks for "
            f"{flow.flow_temp_c:g} °C",
            str(SOURCE),
            "look again at heat loss, emitter outputs and how warm the rooms were, or choose the flow of today",
        )
    if today_c <= LOW_TEMPERATURE_C:
        yield Finding(
            "already_low_temperature",
            "ask" if changed and flow.flow_temp_c >= today_c else "note",
            "existing system",
            f"the emitters heated the house with a flow of {today_c:g} °C; at {flow.flow_temp_c:g} °C {changed} of "
            f"{len(emitters.rooms)} rooms are changed or short",
            str(SOURCE),
            "ask the household whether the rooms that are changed were warm; where they were, keep their emitters and "
            "look again at the heat loss and at the outputs taken for them",
        )
