"""Why a figure is what it is, for people: its formula, its numbers in words with links on, how its inputs are known."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from api.render.wording import figure, per_cent, plural, pounds, quantity, sentence, unit_mark, words_of
from models.units import UNITS_BY_ENDING
from web.sentences import load_words

Document = Mapping[str, Any]
FIGURES: Mapping[str, str] = {
    "heat_loss_w": "heat loss", "transmission_w": "heat through what bounds it", "ventilation_w": "heat in the air",
    "rooms_ventilation_w": "heat in the air, rooms added up", "to_rooms_w": "heat to the house's own rooms",
    "reheat_w": "reheat", "room_temp_c": "room temperature", "floor_area_m2": "floor area",
    "design_outdoor_temp_c": "outdoor temperature of the design", "annual_mean_temp_c": "mean outdoor temperature",
    "heat_loss_w_per_m2": "heat loss for each square metre", "loss_coefficient_w_per_k": "heat loss for each kelvin",
    "neighbour_at_10_w": "heat loss with next door at 10 °C", "neighbour_heated_w": "heat loss with next door heated",
    "envelope_flow_m3_per_h": "air through the envelope", "loss_w": "heat loss", "air_changes_per_h": "air changes",
    "u_w_per_m2k": "U-value", "emitter_output_before_w": "what the emitters give today",
    "emitter_output_w": "what the emitters give after the work", "emitter_short_w": "what is lacking",
    "emitter_action": "what is done to the emitters", "flow_temp_c": "flow temperature",
    "return_temp_c": "return temperature", "governing_room_id": "room that needs the hottest water",
    "heating_curve": "heating curve", "capacity_w": "output at the coldest", "input_w": "electricity at the coldest",
    "minimum_output_w": "least output", "sound_power_dba": "sound power", "cover_ratio": "share of the heat loss",
    "sku": "which one was taken", "count": "how many", "hours_below_minimum_h": "hours a year below the least output",
    "people": "people", "draw_l_per_day": "hot water a day", "store_needed_l": "volume needed",
    "hot_water_kwh_per_year": "heat for hot water in a year", "volume_l": "volume",
    "mixed_40c_l": "water at 40 °C from one filling", "reheat_power_w": "power for reheating",
    "reheat_minutes": "time to reheat", "standing_loss_kwh_per_year": "heat the cylinder loses in a year",
    "hygiene_kwh_per_year": "heat for the hygiene cycle", "fits": "whether it fits in its place",
    "d2_od_mm": "size of the discharge pipe", "resistance_m": "resistance, as metres of pipe",
    "bend_m": "metres for each bend", "thickness_m": "thickness", "width_m": "width", "dig_m3": "what is dug",
    "sub_base_m": "depth of the sub-base", "depth_m": "depth", "gravel_20mm_m3": "20 mm gravel",
    "gravel_10mm_m3": "10 mm gravel", "type": "which kind", "equivalent_length_m": "length with fittings",
    "fixed_loss_pa": "losses besides the pipe", "heating_flow_l_per_s": "flow for heating",
    "heating_drop_pa": "pressure drop while heating", "heating_available_pa": "what the pump has left while heating",
    "reserve_l": "water in reserve",
    "minimum_l": "water that must stay open", "reach_m": "reach of the zone", "zone_top_m": "top of the zone",
    "side_needed_m": "side needed",
    "new_tail_od_mm": "new tails", "carried_w": "what it carries", "carries_w": "may carry", "bore_mm": "bore",
    "tail_run_m": "way of the tails, one way", "method": "method", "flow_l_per_s": "flow",
    "od_mm": "outside diameter", "pump_available_pa": "what the pump has left", "length_m": "length",
    "velocity_m_per_s": "velocity", "gradient_pa_per_m": "pressure drop for each metre",
    "pressure_drop_pa": "pressure drop", "heat_lost_outside_w": "heat lost outside", "total_l": "water in the system",
    "expansion_l": "expansion", "vessel_needed_l": "vessel needed", "open_l": "water that stays open to flow",
    "position_id": "position of the unit", "planning": "planning", "level_dba": "level", "limit_dba": "limit",
    "passes": "whether it passes", "pass_distance_m": "distance at which it passes", "volume_m3": "volume",
    "unit_current_a": "current of the unit", "immersion_current_a": "current of the immersion heater",
    "demand_before_a": "demand of today",
    "demand_after_a": "demand afterwards", "breaker_a": "breaker", "voltage_drop_ratio": "volt drop",
    "size_mm2": "cable size", "capacity_a": "carries", "cutout_a": "cut-out", "maximum_current_a": "greatest current",
    "connected_before_a": "all on today", "counted_before_a": "counts today", "count_before": "how many today",
    "connected_after_a": "all on afterwards", "counted_after_a": "counts afterwards",
    "count_after": "how many afterwards", "apply_above_a": "apply above",
    "voltage_drop_limit_ratio": "greatest volt drop", "extension_board": "extension board",
    "bonding_needed": "bonding needed", "cable_route_m": "route of the cable",
    "network": "what the network operator is told", "space_heat_kwh": "heat for rooms in a year",
    "degree_days_kd": "degree days", "hot_water_kwh": "heat for hot water in a year",
    "space_electricity_kwh": "electricity for rooms", "hot_water_electricity_kwh": "electricity for hot water",
    "electricity_kwh": "electricity in a year", "seasonal_ratio": "heat for each unit of electricity",
    "space_seasonal_ratio": "heat for each unit of electricity, rooms alone", "running_cost_pence": "cost to run",
    "saving_pence": "difference to today", "low_kwh": "electricity, lower end", "high_kwh": "electricity, upper end",
    "saving_low_pence": "difference to today, dear end", "saving_high_pence": "difference to today, cheap end",
    "running_cost_low_pence": "cost to run, lower end", "running_cost_high_pence": "cost to run, upper end",
    "glycol_ratio": "share of glycol by volume", "first_ice_c": "first ice forms at",
    "first_ice_wanted_c": "first ice at the warmest", "glycol_mass_ratio": "share of glycol by mass",
    "below_design_k": "below the design temperature", "pipes_l": "water in the pipes",
    "emitters_l": "water in the emitters", "unit_and_coil_l": "water in units and coil",
    "expansion_ratio": "growth of the water", "fill_temp_c": "temperature when filled",
    "hottest_flow_c": "hottest flow that the maker rates", "volumiser_count": "volumisers",
    "lacking_l": "open water that lacks", "station_design_temp_c": "design temperature of the station",
    "altitude_correction_k": "for the altitude", "station_altitude_m": "altitude of the station",
    "monthly_mean_temp_c": "means of the months", "candidates": "flow temperature considered",
    "fuel_now_kwh": "energy of the fuel today", "fuel_now_cost_pence": "cost of the fuel today",
    "backup_kwh": "direct electric heat", "pipe_loss_kwh": "lost by pipes outside",
    "heat_below_minimum_ratio": "share of heat below the least output", "rooms_short": "rooms short of heat",
    "separation_needed": "whether a second pump is needed", "water_l": "water", "wall_mm": "wall of the tube",
    "vents_50pa_m3_per_h": "air through vents at 50 Pa", "permeability_m3_per_h_m2": "how leaky it is at 50 Pa",
    "unbalanced_m3_per_h": "air taken out beyond what comes in", "envelope_m2": "envelope",
    "volume_flow_factor_ratio": "share of the air at 50 Pa that comes in", "sum_of_rooms_w": "rooms added up",
    "extract_factor_ratio": "what fans leave of wind and buoyancy",
    "additional_infiltration_m3_per_h": "air by wind and buoyancy", "delta_t_k": "flow less return",
    "checks": "each measure", "mass_full_kg": "mass when full", "valves": "antifreeze valves",
    "emitter_fit_hours": "hours to fit emitters", "emitters_changed": "emitters changed", "unit_count": "units",
    "running_pence_per_year": "running", "purchase_pence": "purchase at cost",
    "whole_cost_pence": "purchase and running together", "candidate_flow_temp_c": "flow temperature tried",
    "log_mean_excess_k": "logarithmic mean of the water above the room",
    "cooler_on_the_loop_k": "cooler here on the single pipe",
    "less_kwh": "electricity that it may take less", "more_kwh": "electricity that it may take more",
    "person_hours": "person-hours", "days": "days", "hot_water_off_h": "hours without hot water",
    "heating_off_h": "hours without heating", "power_off_h": "hours without electricity",
    "cold_water_off_h": "hours without cold water", "used": "how much is used", "bought": "how much is bought",
    "charged": "how much is charged", "sell_pence": "price", "cost_pence": "cost", "goods_sell_pence": "goods",
    "goods_cost_pence": "goods at cost", "net_pence": "price before VAT", "vat_pence": "VAT",
    "total_pence": "full price", "grant_pence": "grant", "customer_pays_pence": "what the customer pays",
    "margin_pence": "margin", "unit_sell_gbp": "price of one", "cost_unit_gbp": "cost of one",
    "rate_ratio": "rate of VAT",
}  # fmt: skip
PARTS: Mapping[str, str] = {
    "outdoor_unit": "Outdoor unit", "hot_water": "Hot water", "cylinder": "Cylinder",
    "cylinder_space": "Place of the cylinder", "discharge": "Discharge pipe", "frost_protection": "Against frost",
    "primary": "Primary pipe", "system_volume": "System water", "condensate": "Condensate", "base": "Base",
    "electrical": "Electrical", "performance": "A year of running", "climate": "Climate",
    "zone_air": "Air of the house",
    "other_methods": "By another method", "flow_choice": "Flow temperatures considered",
    "units_considered": "Units considered", "range_terms": "What makes a year differ",
}  # fmt: skip
ROWS: Mapping[str, str] = {
    "design.flow_choice.candidates.": "flow temperature considered: {} °C",
    "design.units_considered.": "unit considered: {}", "design.primary.tried.": "tube tried: {} mm",
}  # fmt: skip
"""Rows of tables that have one reason for all of their figures."""
KNOWN_WORDS = {
    "measured": "measured", "plate": "read off a plate or record", "told": "told", "assumed": "assumed",
}  # fmt: skip
MOST_SHOWN = 40
_TABLES = ("design.rooms.", "design.u_values.", "design.noise.", "labour_plan.tasks.", "bill.lines.", "price.stages.",
           "price.parts.", "price.vat.", "design.other_methods.",
           "design.positions.")  # fmt: skip


@dataclass(frozen=True, slots=True)
class Line:
    """One number or input of a figure, in words; `of` is the path on which its own reason stands, if it has one."""

    what: str
    value: str
    of: str = ""
    known: str = ""


@dataclass(frozen=True, slots=True)
class Reason:
    """A figure's reason, ready to be shown."""

    path: str
    title: str
    sentence: str
    formula: str
    numbers: tuple[Line, ...]
    inputs: tuple[Line, ...]
    cost_formula: str
    cost_numbers: tuple[Line, ...]
    source: str
    standing: str


class Reasons:
    """The reasons of a document: those at or under a path, and titles in the words of the job."""

    def __init__(self, document: Document) -> None:
        self.document = document
        self.entries: Mapping[str, Document] = document.get("why") or {}

    @cached_property
    def names(self) -> dict[str, str]:
        """What each thing with a path of its own is called, by the path with a dot at its end."""
        design, bill, price = self.document["design"], self.document["bill"], self.document["price"]
        plan = self.document["labour_plan"]
        names = {f"design.{part}.": words for part, words in PARTS.items()}
        for room in design["rooms"]:
            names[f"design.rooms.{room['room_id']}."] = room["name"]
        for one in design.get("positions") or ():
            names[f"design.positions.{one['position_id']}."] = one["name"]
        for line in (bill or {}).get("lines") or ():
            names[f"bill.lines.{line['sku']}."] = line["description"]
        for load in (design.get("electrical") or {}).get("loads") or ():
            names[f"design.electrical.loads.{load['kind']}."] = load_words(load["kind"])
        for task in (plan or {}).get("tasks") or ():
            names[f"labour_plan.tasks.{task['code']}."] = task["name"]
        for part in (price or {}).get("parts") or ():
            names[f"price.parts.{part['code']}."] = part["description"]
        for stage in (price or {}).get("stages") or ():
            names[f"price.stages.{stage['name']}."] = f"Payment: {stage['name']}"
        return names

    def title(self, path: str) -> str:
        """What a figure is called: "Lounge: heat loss"."""
        for start, words in ROWS.items():
            if path.startswith(start):
                return sentence(words.format(path.removeprefix(start)))
        head, _, field = path.rpartition(".")
        return sentence(f"{self._place(head)}{figure_words(field)}")

    def _place(self, head: str) -> str:
        if head in ("design", "labour_plan", "price"):
            return {"design": "the house: ", "labour_plan": "the work: ", "price": ""}[head]
        name = self.names.get(f"{head}.")
        if name is None:
            for start in _TABLES:
                if head.startswith(start):
                    room = next((one for one in self.names if one.startswith(start) and head.startswith(one)), "")
                    rest = head.removeprefix(room or start)
                    rest = words_of(rest.removeprefix("elements.").removeprefix("emitter_steps.")).replace("-", " ")
                    name = f"{self.names[room]}, {rest}" if room else rest
                    break
        return f"{name or words_of(head.rpartition('.')[2])}: "

    def at(self, path: str) -> list[str]:
        """The paths at a path, and where there are none those below it."""
        if path in self.entries:
            return [path]
        return [one for one in self.entries if one.startswith(f"{path}.")] if path else []

    def beside(self, path: str) -> list[str]:
        """Other figures of the same thing, the rest of a room or a part."""
        parent = path.rpartition(".")[0] if path in self.entries else path
        if not parent or parent in ("design", "bill.lines", "bill"):
            return []
        if parent.startswith("design.rooms."):
            parent = next((one[:-1] for one in self.names if parent.startswith(one[:-1])), parent)
        under = f"{parent}."
        return [
            one for one in self.entries
            if one != path and one.startswith(under) and not (parent == "price" and one.count(".") > 1)
            and not (parent == "labour_plan" and one.count(".") > 1)
        ]  # fmt: skip

    def reason(self, path: str) -> Reason:
        """One figure's reason. Raises KeyError where there is none."""
        entry = self.entries[path]
        cost = entry.get("cost_why") or {}
        said = "" if entry["formula"] == entry["sentence"] else sentence(entry["sentence"])
        return Reason(
            path, self.title(path), said,
            sentence(entry["formula"]),
            tuple(self._lines(path, entry["numbers"])), tuple(_inputs(entry["inputs"])),
            sentence(cost.get("formula", "")), tuple(self._lines(path, cost.get("numbers") or ())), entry["source"],
            entry["standing"],
        )  # fmt: skip

    def _lines(self, path: str, numbers: Sequence[Document]) -> Iterator[Line]:
        for number in numbers:
            of = self._path_of(path, number["name"])
            what = self.title(of) if of and "." in number["name"] else self._number_words(number["name"])
            yield Line(sentence(what), value_words(number["value"], number["unit"], number["name"]), of)

    def _number_words(self, name: str) -> str:
        head, _, field = name.rpartition(": ")
        if not head and "." in name:
            room, _, field = name.partition(".")
            known = self.names.get(f"design.rooms.{room}.")
            if known:
                return f"{known}: {figure_words(field)}"
        return f"{figure_words(head)}: {figure_words(field)}" if head else figure_words(name)

    def _path_of(self, path: str, name: str) -> str:
        parent = path.rpartition(".")[0]
        stage, _, field = name.rpartition(": ")
        plain = name.removesuffix(" less to_rooms_w")
        wanted = [
            f"{parent}.{plain}", f"{parent}.elements.{plain}", f"{parent}.emitter_steps.{plain}",
            f"design.rooms.{plain}", f"design.{plain}",
            f"labour_plan.tasks.{name.removesuffix('_person_hours')}.person_hours",
        ]  # fmt: skip
        if stage:
            wanted += [f"price.stages.{stage}.{field}", f"price.parts.{stage}.{field}"]
        return next((one for one in wanted if one != path and one in self.entries), "")

    def contents(self) -> list[tuple[str, list[tuple[str, str]]]]:
        """All figures by what they belong to: (heading, [(path, title)]), in the order of the document."""
        groups: dict[str, list[tuple[str, str]]] = {}
        for path in self.entries:
            groups.setdefault(self._heading(path), []).append((path, self.title(path)))
        return list(groups.items())

    def _heading(self, path: str) -> str:
        for start, words in (
            ("design.u_values.", "U-values"), ("design.noise.", "Noise"), ("bill.", "Bill of materials"),
            ("labour_plan.", "Labour"), ("price.", "Price"),
        ):  # fmt: skip
            if path.startswith(start):
                return words
        for start, words in self.names.items():
            if path.startswith(start):
                return words
        return "The house"


def figure_words(field: str) -> str:
    """A figure's name in words; without its unit where no words were written for it."""
    if field in FIGURES:
        return FIGURES[field]
    stem = next((field.removesuffix(end) for end in UNITS_BY_ENDING if field.endswith(end) and field != end), field)
    return words_of(stem).replace(".", ", ").replace(" temp", " temperature")


def value_words(value: Any, unit: str, name: str = "") -> str:
    """A number as people read it, with its unit: money in pounds, shares in per cent, no more places than it is worth.

    >>> value_words(6729.795, "W"), value_words("12.5000", "£"), value_words(190192, "p"), value_words(0.05, "1")
    ('6,730 W', '£12.50', '£1,901.92', '5 %')
    """
    if value is None:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | tuple):
        return ", ".join(value_words(one, unit, name) for one in value)
    if isinstance(value, str):
        try:
            number = float(value)
        except ValueError:
            return words_of(value) if " " not in value else value
    else:
        number = float(value)
    if unit == "p":
        return pounds(round(number))
    if unit == "p/year":
        return f"{pounds(round(number))} a year"
    if unit == "£":
        text = f"{abs(number):,.4f}"
        return f"{'−' if number < 0 else ''}£{text[:-2] if text.endswith('00') else text}"
    if unit == "1" and "seasonal" not in name and "factor" not in name:
        share = number * 100
        return per_cent(number, 0 if abs(share - round(share)) < 0.05 else 1)
    text = quantity(number) if number == round(number) else figure(number, _places(abs(number)))
    return f"{text} {_mark(unit)}".strip()


def _places(size: float) -> int:
    return 0 if size >= 1000 else 1 if size >= 100 else 2 if size >= 1 else 3 if size >= 0.1 else 5


def _mark(unit: str) -> str:
    if unit in ("1", "1/h"):
        return "" if unit == "1" else "an hour"
    return unit_mark(unit).replace("m2", "m²").replace("m3", "m³")


def _inputs(inputs: Sequence[Document]) -> Iterator[Line]:
    for one in inputs:
        value = "not seen" if one["value"] in (None, "unknown") else value_words(one["value"], one["unit"])
        yield Line(sentence(one["what"]), value, known=one["known"])


# --- what the assumptions move ---------------------------------------------------------------------------------------


def mover_rows(movers: Sequence[Document]) -> list[dict[str, Any]]:
    """The rows of the table of assumptions: what was taken, and what each end of its span would change."""
    rows = []
    for mover in movers:
        places = mover["places"]
        where = places[0] if len(places) == 1 else f"{len(places)} places: {', '.join(places)}"
        rows.append(
            {
                "what": sentence(mover["what"]), "where": where, "taken": mover["taken"],
                "swings": [_swing(swing) for swing in mover["swings"]],
            }
        )  # fmt: skip
    return rows


def _swing(swing: Document) -> dict[str, str]:
    stops = swing["new_stops"]
    heat = round(swing["heat_loss_change_w"])
    unit = ""
    if swing["unit_changes"]:
        unit = f"{swing['unit_count']} × {swing['unit_sku']}" if swing["unit_sku"] else "none is enough"
    price, short = swing["price_change_pence"], swing["more_rooms_short"]
    return {
        "to": swing["to"],
        "heat": "no change" if heat == 0 else f"{_signed(heat)} W",
        "unit": unit or "the same",
        "price": "no price" if price is None else ("no change" if price == 0 else f"{_sign(price)}{pounds(abs(price))}")
        + (f", {plural(short, 'room')} more short of heat" if short > 0 else ""),
        "stops": ", ".join(words_of(code) for code in stops),
    }


def _sign(number: float) -> str:
    return "+" if number > 0 else "−"


def _signed(number: float) -> str:
    return f"{_sign(number)}{abs(number):,.0f}"
