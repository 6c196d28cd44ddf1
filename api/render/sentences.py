"""The design and the price of a quote in sentences: the same in the sealed files, on a page and in a terminal."""

from collections.abc import Mapping, Sequence
from typing import Any

from api.render.wording import ACTION_WORDS, day_words, figure, per_cent, plural, pounds, quantity, sentence, words_of

Document = Mapping[str, Any]


def emitter_words(room: Document) -> str:
    """What happens to the emitters of a room, in a few words with what is fitted."""
    steps = room.get("emitter_steps") or ()
    new = [step["description"] for step in steps if step["action"] in ("swap", "add")]
    new += [
        f"tails of {step['description']} renewed in {step['new_tail_od_mm']} mm"
        for step in steps
        if step.get("new_tail_od_mm")
    ]
    said = ACTION_WORDS.get(room["emitter_action"], words_of(room["emitter_action"]))
    if new and room["emitter_action"] == "short":
        return f"too little even with {', '.join(new)}: see the findings"
    return f"{said}: {', '.join(new)}" if new else said


def difference_words(saving_pence: int) -> str:
    """What is saved in a year, or what it costs more.

    >>> difference_words(1200), difference_words(-50)
    ('£12.00 a year less', '£0.50 a year more')
    """
    return f"{pounds(abs(saving_pence))} a year {'less' if saving_pence >= 0 else 'more'}"


def unit_words(design: Document) -> str:
    """The outdoor unit in a sentence."""
    unit = design.get("outdoor_unit")
    if unit is None:
        return "none chosen: see the stops"
    count = f"{unit['count']} × " if unit["count"] != 1 else ""
    text = (
        f"{count}{unit['name']} ({unit['sku']}), gives {figure(unit['capacity_w'])} W at "
        f"{figure(design['design_outdoor_temp_c'], 1)} °C outdoors and {figure(design['flow_temp_c'])} °C flow: "
        f"{per_cent(unit['cover_ratio'])} of the heat loss; least output {figure(unit['minimum_output_w'])} W"
    )
    if unit.get("hours_below_minimum_h") is not None:
        text += f", below which it cycles some {figure(unit['hours_below_minimum_h'])} h a year"
    return f"{text}. {unit['refrigerant']}, {quantity(unit['charge_kg'])} kg; {figure(unit['mass_kg'])} kg"


def cylinder_words(design: Document) -> str:
    """The hot-water cylinder in a sentence."""
    cylinder, hot = design.get("cylinder"), design.get("hot_water") or {}
    need = (
        f"{quantity(round(hot['people'], 1))} people need {figure(hot['store_needed_l'])} L" if "people" in hot else ""
    )
    if cylinder is None:
        return f"none chosen: see the findings. {need}".strip()
    text = (
        f"{cylinder['name']} ({cylinder['sku']}), {figure(cylinder['volume_l'])} L at {figure(hot['store_temp_c'])} °C"
    )
    if hot.get("reheat_minutes") is not None:
        text += f", reheats in {figure(hot['reheat_minutes'])} min"
    return f"{text}; {need}. {figure(cylinder['mass_full_kg'])} kg when full"


def discharge_words(design: Document) -> str:
    """The discharge pipe of the cylinder's relief valves in a sentence."""
    pipe = design.get("discharge")
    if pipe is None:
        return ""
    if pipe["d2_od_mm"] is None:
        return "no size of the table is enough: see the findings"
    return (
        f"D1 {pipe['d1_min_od_mm']} mm, D2 {pipe['d2_od_mm']} mm, {quantity(pipe['run_m'])} m with "
        f"{plural(pipe['bends'], 'bend')}: "
        f"resistance {quantity(pipe['resistance_m'])} m of {quantity(pipe['limit_m'])} m. "
        "Unvented hot water: only for a competent person, and it is notified"
    )


def primary_words(design: Document) -> str:
    """The pipe between unit and house in a sentence."""
    pipe = design.get("primary")
    if pipe is None or pipe["od_mm"] is None:
        return "none chosen: see the findings"
    text = (
        f"{pipe['od_mm']} mm copper, {figure(pipe['flow_l_per_s'], 3)} L/s at "
        f"{figure(pipe['velocity_m_per_s'], 2)} m/s, "
        f"pressure drop {figure(pipe['pressure_drop_pa'] / 1000, 1)} kPa of "
        f"{figure(pipe['pump_available_pa'] / 1000, 1)} kPa that the pump has left"
    )
    if pipe.get("heating_flow_l_per_s") is not None and pipe["heating_available_pa"] is not None:
        text += (
            f" while it heats the store; while it heats the house {figure(pipe['heating_flow_l_per_s'], 3)} L/s, "
            f"{figure(pipe['heating_drop_pa'] / 1000, 1)} kPa of {figure(pipe['heating_available_pa'] / 1000, 1)} kPa"
        )
    return text


def frost_words(design: Document) -> str:
    """How the pipes outside are kept from freezing."""
    frost = design.get("frost_protection")
    if frost is None:
        return ""
    how = (
        f"{plural(frost['valves'], 'antifreeze valve')}, plain inhibited water"
        if frost["method"] == "valves"
        else f"{per_cent(frost['glycol_ratio'])} glycol, no antifreeze valves"
    )
    return f"{how}. {sentence(frost['reason'])}"


def volume_words(design: Document) -> str:
    """The water in the system and the vessels."""
    volume = design.get("system_volume")
    if volume is None:
        return ""
    text = f"{figure(volume['total_l'])} L; "
    text += f"always open {figure(volume['open_l'])} L of {figure(volume['minimum_l'])} L needed"
    if volume.get("vessel"):
        text += f"; expansion vessel {quantity(volume['vessel']['volume_l'])} L"
        text += f" for {figure(volume['vessel_needed_l'], 1)} L"
    if volume.get("volumiser_count"):
        text += f"; {plural(volume['volumiser_count'], 'volumiser')} of {quantity(volume['volumiser']['volume_l'])} L"
    return text


BASE_WORDS = {
    "rapid_slab": "slab of rapid-setting concrete",
    "standard_slab": "slab of ordinary concrete",
    "preformed": "pre-formed base",
}


def _on_ground(base: Document) -> str:
    thick = [f"{figure(base['thickness_m'] * 1000)} mm thick"] if base["thickness_m"] else []
    below = [f"on {figure(base['sub_base_m'] * 1000)} mm of sub-base"] if base.get("sub_base_m") else []
    return " ".join([*thick, *below]) or "straight on the ground"


def base_words(design: Document) -> str:
    """What the unit stands on."""
    base = design.get("base")
    if base is None:
        return ""
    if base["type"] == "wall_bracket":
        return f"wall bracket. {sentence(base['reason'])}"
    return (
        f"{BASE_WORDS.get(base['type'], words_of(base['type']))}, "
        f"{figure(base['length_m'], 2)} × {figure(base['width_m'], 2)} m, "
        f"{_on_ground(base)}. {sentence(base['reason'])}"
    )


def condensate_words(design: Document) -> str:
    """Where the meltwater of the unit goes."""
    water = design.get("condensate")
    if water is None:
        return ""
    if water["to"] == "undecided":
        return "undecided: see the stops"
    if water["to"] != "soakaway":
        return f"{words_of(water['to'])}, {quantity(water['pipe_m'])} m of pipe"
    return (
        f"soakaway {figure(water['depth_m'] * 1000)} mm deep, {figure(water['width_m'] * 1000)} mm wide, standing pipe "
        f"{quantity(water['standing_pipe_m'])} m. Look for buried services before digging"
    )


def electrical_words(design: Document) -> str:
    """Demand, cable, breaker and what the network operator must be told."""
    supply = design.get("electrical")
    if supply is None:
        return ""
    cable = f"{quantity(supply['cable']['size_mm2'])} mm² cable, " if supply.get("cable") else ""
    after = supply.get("demand_after_a")
    demand = "demand not known"
    if after is not None:
        demand = f"demand {figure(supply['demand_before_a'])} A today and {figure(after)} A afterwards"
    if after is not None and supply.get("cutout_a") is not None:
        demand += f" on a {quantity(supply['cutout_a'])} A cut-out"
    if supply.get("demand_basis") == "from_loads" and after is not None:
        demand += ", summed from the loads"
    network = {"notify": "network operator is told afterwards", "apply": "network operator must agree first"}
    said = network.get(supply["network"], "not known whether the network operator must agree")
    return f"{cable}{supply['breaker_a']} A breaker; {demand}; {said}. The electrician decides"


SERVICES = (
    ("hot_water", "Without hot water"),
    ("heating", "Without heating"),
    ("cold_water", "Without cold water"),
    ("power", "Without electricity"),
)


def off_lines(plan: Document) -> list[tuple[str, str]]:
    """Each service that the work switches off: how long on the clock, and from when to when."""
    lines = []
    for service, name in SERVICES:
        hours = plan[f"{service}_off_h"]
        spans = [
            f"day {one['off']['day']}, {one['off']['at']} to day {one['on']['day']}, {one['on']['at']}"
            for one in plan.get("services") or ()
            if one["service"] == service
        ]
        said = "never" if hours == 0 else f"{figure(hours, 1)} h"
        lines.append((name, f"{said}: {'; '.join(spans)}" if spans and hours else said))
    return lines


def before_lines(before: Sequence[Document]) -> list[tuple[str, str]]:
    """What must be there before the first day of work, the longest wait first."""
    waits = sorted(before, key=lambda one: -(one["calendar_days"] or 0))
    return [(sentence(one["what"]), f"{_wait(one)}, {one['who']}. {sentence(one['reason'])}") for one in waits]


def _wait(one: Document) -> str:
    days = one["calendar_days"]
    if days is None:
        return "time not known"
    return plural(days, "day") if days else "on the day"


def price_lines(price: Document | None) -> list[tuple[str, str, str]]:
    """The price as (kind, words, amount): the full price first, then the grant, then what the customer pays."""
    if price is None or price["total_pence"] is None:
        return [("none", "No price: what is said under the stops comes first", "")]
    lines = [
        ("net", "Work and materials before VAT", pounds(price["net_pence"])),
        ("vat", "VAT", pounds(price["vat_pence"])),
        ("full", "Full price", pounds(price["total_pence"])),
    ]
    grant = price.get("grant") or {}
    if grant.get("amount_pence", price["grant_pence"]) is None:
        lines.append(("grant", "Grant: amount not known, nothing taken off", ""))
    elif price["grant_pence"]:
        lines.append(("grant", "Less the grant, if it is given", pounds(-price["grant_pence"])))
    else:
        lines.append(("grant", "Grant: none", ""))
    if grant.get("sentence"):
        lines.append(("said", grant["sentence"], ""))
    lines.append(("pays", "Customer pays", pounds(price["customer_pays_pence"])))
    return lines


def stage_words(stage: Document) -> str:
    """One payment: what it is, when it is due, how much."""
    return f"{stage['name']}, {stage['due']}: {pounds(stage['customer_pays_pence'])}"


def vat_words(stage: Document) -> str:
    """The VAT of one payment and the tax point that it assumes."""
    vat = "; ".join(
        f"{per_cent(line['rate_ratio'])} of {pounds(line['net_pence'])} = {pounds(line['vat_pence'])}"
        for line in stage["vat"]
        if line["net_pence"]
    )
    return f"tax point {day_words(stage['tax_point_on'])} ({words_of(stage['trigger'])}), VAT {vat}"


def beside_lines(price: Document) -> list[tuple[str, list[tuple[str, str]]]]:
    """What stands beside the price, under its heading: (what, how much or who); nothing of it is in the total."""
    sums = price.get("provisional_sums") or ()
    known = [("The full price if all of it comes up", pounds(price["total_with_provisional_pence"]))] if sums else []
    blocks = [
        ("Not in the price: extras to choose, with VAT", _with_amount(price.get("extras") or ())),
        ("Not in the price: what nobody can know yet, with VAT", _with_amount(sums) + known),
        (
            "Done by other firms, in the price",
            [
                (f"{one['description']}, price held until {day_words(one['held_until'])}", pounds(one["sell_pence"]))
                for one in price.get("subcontract") or ()
            ],
        ),
        ("Not included, and who does it", [(one["what"], one["who"]) for one in price.get("exclusions") or ()]),
    ]
    return [(title, lines) for title, lines in blocks if lines]


def _with_amount(rows: Sequence[Document]) -> list[tuple[str, str]]:
    return [(sentence(one["description"]), pounds(one["total_pence"])) for one in rows]


def equipment_words(design: Document) -> list[tuple[str, str]]:
    """Everything that goes in, each with its sentence; empty where there is nothing to say."""
    return [
        ("Outdoor unit", unit_words(design)),
        ("Cylinder", cylinder_words(design)),
        ("Discharge pipe", discharge_words(design)),
        ("Primary pipe", primary_words(design)),
        ("Frost", frost_words(design)),
        ("System water", volume_words(design)),
        ("Base", base_words(design)),
        ("Condensate", condensate_words(design)),
        ("Electrical", electrical_words(design)),
    ]


def grouped(lines: Sequence[Document], key: str = "group") -> list[tuple[str, list[Document]]]:
    """Lines by group, groups in the order in which they first turn up."""
    groups: dict[str, list[Document]] = {}
    for line in lines:
        groups.setdefault(line[key], []).append(line)
    return list(groups.items())
