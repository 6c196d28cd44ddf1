"""What only pages and the terminal say: methods, positions, what an answer rests on, plans and what-ifs."""

from collections.abc import Sequence
from typing import Any

from api.render.sentences import SERVICES, Document
from api.render.wording import day_words, figure, per_cent, plural, sentence, words_of
from web.day_chart import day_strips
from web.forms.words import choice_words, label_of, label_of_field


def load_words(kind: str) -> str:
    """What a kind of load is called, as on the form of the supply."""
    return choice_words("Load", "kind", kind)


METHOD_WORDS = {
    "room_air_changes": "air changes of each room", "standard": "the standard's own air flows",
    "simplified": "the simplified room method",
}  # fmt: skip
PLANNING_WORDS = {
    "permitted": "no planning application needed", "application_needed": "planning application needed",
    "not_known": "not known whether an application is needed",
}  # fmt: skip


def method_lines(design: Document) -> list[tuple[str, str, str]]:
    """How far the other methods and the other policy for next door are from the heat loss taken, each with its path."""
    taken = design["heat_loss_w"]
    lines = [("Taken", f"{METHOD_WORDS.get(design['heat_loss_method'], words_of(design['heat_loss_method']))}: "
                       f"{figure(taken)} W", "design.heat_loss_w")]  # fmt: skip
    for other in design["other_methods"]:
        name = METHOD_WORDS.get(other["method"], words_of(other["method"]))
        lines.append(
            (
                f"By {name}",
                f"{figure(other['heat_loss_w'])} W, {_off_by(other['heat_loss_w'], taken)}; rooms added up "
                f"{figure(other['sum_of_rooms_w'])} W",
                f"design.other_methods.{other['method']}.heat_loss_w",
            )
        )  # fmt: skip
    heated, cold = design["neighbour_heated_w"], design["neighbour_at_10_w"]
    if heated is not None and cold is not None and abs(cold - heated) >= 0.5:
        said = f"{figure(heated)} W with next door heated, {figure(cold)} W with it at 10 °C"
        lines.append(("Next door", said, "design.neighbour_at_10_w"))
    if abs(design["ventilation_w"] - design["rooms_ventilation_w"]) >= 0.5:
        said = f"{figure(design['ventilation_w'])} W for the house, {figure(design['rooms_ventilation_w'])} W by rooms"
        lines.append(("Heat in the air", said, "design.ventilation_w"))
    return lines


def _off_by(other: float, taken: float) -> str:
    if taken <= 0 or round(other) == round(taken):
        return "the same" if round(other) == round(taken) else "not comparable"
    return f"{per_cent(abs(other - taken) / taken)} {'more' if other > taken else 'less'}"


def position_words(position: Document, chosen_id: str | None) -> str:
    """Whether a surveyed position was chosen, could be, or cannot be."""
    stops = sum(one["strength"] == "stop" for one in position["findings"])
    if position["position_id"] == chosen_id:
        return "chosen"
    return f"cannot be: {plural(stops, 'stop')}" if stops else "possible"


RANKING_RULE = "fewest stops first, then fewest things to be accepted, then the shortest pipe route"


def ranking_rows(design: Document) -> list[tuple[int, str, str, str, list[tuple[str, str]]]]:
    """The surveyed positions, the best first: rank, name, verdict, pipe route in metres, and what speaks against it.

    Each thing that speaks against a position comes with its strength.

    Nothing in documents of quotes that do not carry the ranking.
    """
    rows = []
    for one in design.get("position_ranking") or ():
        chosen = one["position_id"] == design["position_id"]
        if one["stops"]:
            verdict = f"{'chosen, but ' if chosen else ''}{plural(one['stops'], 'stop')}"
        else:
            verdict = "chosen" if chosen else "possible"
        against = [("stop", said) for said in one.get("stopped_by", ())]
        against += [("ask", said) for said in one.get("to_accept", ())]
        rows.append((one["rank"], one["name"], verdict, figure(one["route_m"], 1), against))
    return rows


OFF_FIGURES = {name: f"{service}_off_h" for service, name in SERVICES}
PRICE_FIGURES = {
    "net": "net_pence", "vat": "vat_pence", "full": "total_pence", "grant": "grant_pence",
    "pays": "customer_pays_pence",
}  # fmt: skip
EQUIPMENT_FIGURES = {
    "Outdoor unit": "design.outdoor_unit", "Cylinder": "design.cylinder", "Discharge pipe": "design.discharge",
    "Primary pipe": "design.primary", "Frost": "design.frost_protection", "System water": "design.system_volume",
    "Base": "design.base", "Condensate": "design.condensate", "Electrical": "design.electrical",
}  # fmt: skip
"""Where the reasons of a line stand: parts of paths in the document of whys."""


def basis_lines(basis: Document) -> list[tuple[str, str]]:
    """What an answer rests on: rules, prices, dates, defaults, and what was only assumed."""
    assumed = basis.get("assumed") or ()
    start = "assumed" if basis.get("works_start_assumed") else "chosen"
    return [
        ("Rules", str(basis["rules_version"])),
        ("Price list", f"{basis['price_list_version']}, valid from {day_words(basis['price_list_valid_from'])}"),
        ("Priced on", day_words(basis["priced_on"])),
        ("Work", f"{day_words(basis['works_start_on'])} ({start}) to {day_words(basis['works_end_on'])}"),
        ("Defaults", _pairs(basis.get("defaults") or {})),
        ("Choices", _chosen(basis.get("choices") or {})),
        ("Assumed or unknown", f"{plural(len(assumed), 'value')}. {assumed_words(assumed)}" if assumed else "nothing"),
    ]


def assumed_words(assumed: Sequence[str]) -> str:
    """The values that nobody saw ("Hall: air_changes_per_h"), each value once with the places where it was assumed."""
    places: dict[str, list[str]] = {}
    for one in assumed:
        place, _, field = str(one).rpartition(": ")
        places.setdefault(field, []).append(place)
    return ". ".join(sentence(f"{label_of_field(field)}: {'; '.join(where)}") for field, where in places.items())


def _chosen(choices: Document) -> str:
    said = [f"{label_of('Choices', name)}: {words_of(value)}" for name, value in choices.items() if value != []]
    return "; ".join(said)


def _pairs(record: Document) -> str:
    return "; ".join(f"{words_of(name)}: {words_of(value)}" for name, value in record.items())


def equipment_reason(design: Document, name: str) -> str:
    """Where the reasons of a thing that goes in stand; nothing where none was chosen."""
    path = EQUIPMENT_FIGURES[name]
    part = design.get(path.partition(".")[2])
    sized = part is not None and part.get("od_mm", part) is not None
    return path if sized else ""


def proof_words(plan: Document) -> str:
    """Whether a bound proves the days of a plan."""
    if "proven" not in plan:
        return ""
    if plan["proven"]:
        return "No plan of these people can take fewer days."
    return f"At least {plural(plan['lower_bound_days'], 'day')}; a shorter plan than this one is not ruled out."


def what_if_rows(answers: Sequence[Document]) -> list[dict[str, Any]]:
    """Each what-if as a title, what is said of it, and its plan by day where it differs from a plan that is shown."""
    rows = []
    for answer in answers:
        title, _, said = answer["sentence"].partition(": ")
        if answer.get("days_dry") is not None:
            rain_days, _, said = said.partition(": ")
            title = f"{title} ({rain_days})"
        plan = answer["plan"]
        rows.append(
            {
                "title": sentence(title), "said": f"{sentence(said)}.", "days": plan["days"],
                "strips": day_strips(plan["tasks"], plan["dates"]) if plan["days"] is not None else [],
                "source": answer["source"] if "runs" in answer else "",
            }
        )  # fmt: skip
    return rows
