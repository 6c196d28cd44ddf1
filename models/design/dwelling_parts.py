"""Which parts of the house want a control, a meter or a route of their own: an annexe, a heated conservatory."""

from collections.abc import Iterator

from models.design.results import HeatLoss
from models.findings import Finding
from models.sources import COMMON_PRACTICE, Source, Why
from models.survey import Survey
from models.units import counted

SOURCE = COMMON_PRACTICE
WHY = Why(sentence="{heat_loss_w:.0f} W of the house by its parts", source=SOURCE)
METERING = Source("Heat Network (Metering and Billing) Regulations 2014", standing="from memory")
CONTROLS = Source("Approved Document L (2021 edition)", "heated conservatories and extensions", "from memory")


def part_findings(*, survey: Survey, heat_loss: HeatLoss) -> tuple[Finding, ...]:
    """What an annexe and a heated conservatory need besides the rest of the house.

    Common practice, no source. A route to an annexe that stands apart is neither designed nor priced: *stop*.
    """
    return (*_annexe(survey, heat_loss), *_conservatories(survey, heat_loss))


def _annexe(survey: Survey, heat_loss: HeatLoss) -> Iterator[Finding]:
    annexe = survey.house.annexe
    rooms = {room.id for room in survey.rooms if room.dwelling_part == "annexe"}
    if annexe is None and not rooms:
        return
    name = "annexe" if annexe is None else annexe.name
    load_w = sum(room.heat_loss_w for room in heat_loss.rooms if room.room_id in rooms)
    if annexe is None:
        yield Finding(
            "annexe_not_described",
            "ask",
            name,
            f"{counted(len(rooms), 'room')} with {load_w:,.0f} W in an annexe of which route, zone and meter are not "
            "recorded",
            str(SOURCE),
            "record the annexe with the route of its pipes",
        )
        return
    if not rooms:
        yield Finding(
            "annexe_without_rooms",
            "stop",
            name,
            "it is to be heated by the same system and none of its rooms was surveyed",
            str(SOURCE),
            "survey its rooms and say that they belong to the annexe",
        )
    if annexe.route_m > 0:
        yield Finding(
            "annexe_route_not_designed",
            "stop",
            name,
            f"{load_w:,.0f} W go {annexe.route_m:g} m to it: the pipe, its trench, its pump and the heat that it loses "
            "are neither designed nor priced here",
            str(SOURCE),
            "design the pipe to the annexe apart and quote it by hand, or give the annexe a unit of its own",
        )
    open_points = [
        words
        for words, value in (
            ("it can be switched off by itself", annexe.own_zone),
            ("it has a heat meter of its own", annexe.own_meter),
        )
        if value != "yes"
    ]
    if rooms:
        yield Finding(
            "annexe_on_same_system",
            "ask" if open_points else "note",
            name,
            f"{counted(len(rooms), 'room')} with {load_w:,.0f} W of {heat_loss.heat_loss_w:,.0f} W on the same system; "
            "its hot water is counted with the people of the house"
            + "".join(f"; that {words} is not so or not known" for words in open_points),
            str(METERING),
            "a zone valve with a thermostat of its own; a heat meter where somebody else pays for it, and ask whether "
            "the metering rules apply",
        )


def _conservatories(survey: Survey, heat_loss: HeatLoss) -> Iterator[Finding]:
    glazed = {room.id for room in survey.rooms if room.use == "conservatory"}
    if not glazed:
        return
    for room in heat_loss.rooms:
        if room.room_id in glazed:
            yield Finding(
                "conservatory_heated",
                "ask",
                room.name,
                f"it is heated by the system: {room.heat_loss_w:,.0f} W at {room.room_temp_c:g} °C for "
                f"{room.floor_area_m2:.1f} m2, of {heat_loss.heat_loss_w:,.0f} W for the house",
                str(CONTROLS),
                "a thermostat and valve of its own so that it can be shut off, or leave it unheated behind a door of "
                "outside quality",
            )
