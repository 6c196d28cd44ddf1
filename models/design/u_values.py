"""The U-value of each construction that is given, built up from layers, or looked up."""

from collections.abc import Iterable, Iterator

from models.design.results import ConstructionU
from models.findings import Finding
from models.physics.conduction import BRIDGED_LIMIT_RATIO, layers_resistance
from models.reference import Reference
from models.sources import Source, Why
from models.survey import ByLayers, ByTable, ByU, Construction, House

SOURCE = Source("EN ISO 6946:2017", "6.7.1 and 6.7.2")
STONE_2012 = Source("RdSAP 2012", "Appendix S, stone walls by thickness")
STONE_10 = Source("RdSAP 10", "stone walls by thickness", "from memory")
SURVEYED = Source("the survey", "U-value as given", "firm's rule")
WHY = Why(sentence="{u_w_per_m2k:.2f} W/m2K: {how}", source=SOURCE)


class UnknownRow(ValueError):
    """A construction asks for a row that the table lacks, or does not say what the row needs: field, value, wanted."""

    def __init__(self, construction: ByTable, field: str, said: str, wanted: str) -> None:
        super().__init__(f"construction '{construction.name}': {said}; give {wanted}")
        self.construction = construction.name
        self.field = field
        self.value = getattr(construction, field)
        self.said = said
        self.wanted = wanted


def u_values(*, constructions: Iterable[Construction], house: House, reference: Reference) -> dict[str, ConstructionU]:
    """U-value of every construction that is known by its U-value, its layers or a table, by construction id.

    EN ISO 6946:2017 for layers, RdSAP for tables. Floors on and over the ground are left to `ground`. Raises
    UnknownRow, and TooManySections for layers bridged beyond reason.
    """
    found = {}
    for construction in constructions:
        if isinstance(construction, ByU):
            found[construction.id] = _given(construction)
        elif isinstance(construction, ByLayers):
            found[construction.id] = _layered(construction, reference)
        elif isinstance(construction, ByTable):
            found[construction.id] = _looked_up(construction, house, reference)
    return found


def _given(construction: ByU) -> ConstructionU:
    known = construction.how_known("u_w_per_m2k")
    return ConstructionU(
        construction.id,
        construction.u_w_per_m2k,
        f"{construction.name}: {construction.u_w_per_m2k:.2f} W/m2K, {known}",
        SURVEYED,
        known == "assumed",
    )


def _layered(construction: ByLayers, reference: Reference) -> ConstructionU:
    surfaces = reference.heat_loss.surface_resistance_m2k_per_w
    inside_m2k_per_w = surfaces[f"inside_{construction.heat_flow}"]
    outside_m2k_per_w = surfaces["outside"] if construction.outside_surface == "outside_air" else inside_m2k_per_w
    result = layers_resistance(
        layers=construction.layers,
        inside_surface_m2k_per_w=inside_m2k_per_w,
        outside_surface_m2k_per_w=outside_m2k_per_w,
    )
    findings: tuple[Finding, ...] = ()
    if not result.in_range:
        findings = (
            Finding(
                "bridged_layers_out_of_range",
                "ask",
                construction.name,
                f"the upper limit of its resistance, {result.upper_m2k_per_w:.2f} m2K/W, is more than "
                f"{BRIDGED_LIMIT_RATIO:g} times the lower, {result.lower_m2k_per_w:.2f} m2K/W; between such limits "
                "the combined method does not hold",
                str(SOURCE),
                "work the construction out in detail, or give its U-value from its maker",
            ),
        )
    return ConstructionU(
        construction.id,
        result.u_w_per_m2k,
        f"{construction.name}: {len(construction.layers)} layers between surfaces of {inside_m2k_per_w:.2f} and "
        f"{outside_m2k_per_w:.2f} m2K/W; resistance at most {result.upper_m2k_per_w:.3f}, at least "
        f"{result.lower_m2k_per_w:.3f}, mean {result.total_m2k_per_w:.3f} m2K/W; U = 1 / {result.total_m2k_per_w:.3f}",
        SOURCE,
        construction.how_known("layers") == "assumed"
        or any("assumed" in part.known.values() for layer in construction.layers for part in (layer, *layer.paths)),
        findings,
    )


def _looked_up(construction: ByTable, house: House, reference: Reference) -> ConstructionU:
    u_w_per_m2k, how, source = _LOOK_UP[construction.table](construction, house, reference)
    if construction.dry_lined:
        lining_m2k_per_w = reference.walls.dry_lining_m2k_per_w
        bare_w_per_m2k = u_w_per_m2k
        u_w_per_m2k = bare_w_per_m2k / (1 + bare_w_per_m2k * lining_m2k_per_w)
        how = f"{how}; {bare_w_per_m2k:.2f} W/m2K before a dry lining of {lining_m2k_per_w:.2f} m2K/W"
    assumed = "assumed" in (construction.how_known("row"), construction.known.get("thickness_mm"))
    findings: tuple[Finding, ...] = ()
    if construction.table == "stone_by_thickness":
        findings = tuple(_stone_findings(construction, house, reference))
    return ConstructionU(construction.id, u_w_per_m2k, f"{construction.name}: {how}", source, assumed, findings)


def _wall_by_age(construction: ByTable, house: House, reference: Reference) -> tuple[float, str, Source]:
    walls = reference.walls
    values = walls.u_w_per_m2k.get(construction.row)
    if values is None:
        raise _unknown_row(construction, walls.u_w_per_m2k)
    u_w_per_m2k = values[walls.bands.index(house.age_band)]
    kind = construction.row.replace("_", " ")
    years = reference.age_bands[house.age_band].years
    return u_w_per_m2k, f"{kind} wall of age band {house.age_band} ({years})", walls.source


def _stone_by_thickness(construction: ByTable, house: House, reference: Reference) -> tuple[float, str, Source]:
    walls = reference.walls
    by_power = reference.defaults.wall_table == "RdSAP10"
    rows = walls.stone if by_power else walls.stone_2012
    if construction.row not in rows:
        raise _unknown_row(construction, rows)
    thickness_mm = construction.thickness_mm
    if thickness_mm is None:
        said = "a stone wall by thickness needs its thickness_mm"
        raise UnknownRow(construction, "thickness_mm", said, "its thickness in millimetres")
    first, second = rows[construction.row]
    kind = construction.row.replace("_", " ")
    if by_power:
        how = f"{kind}, {thickness_mm} mm: {first:g} x {thickness_mm}^{second:g}"
        return first * thickness_mm**second, how, STONE_10
    how = f"{kind}, {thickness_mm} mm: {first:g} - {-second:g} x {thickness_mm}"
    return first + second * thickness_mm, how, STONE_2012


def _stone_findings(construction: ByTable, house: House, reference: Reference) -> Iterator[Finding]:
    walls = reference.walls
    thickness_mm = construction.thickness_mm
    if thickness_mm is not None and not walls.stone_from_mm <= thickness_mm <= walls.stone_to_mm:
        # The straight line of the 2012 edition runs on to no loss at all; the power law only flattens.
        falls_to_nothing = reference.defaults.wall_table != "RdSAP10" and thickness_mm > walls.stone_to_mm
        yield Finding(
            "stone_wall_thickness_out_of_range",
            "stop" if falls_to_nothing else "ask",
            construction.name,
            f"the wall is {thickness_mm} mm thick; the formula for stone walls is for {walls.stone_from_mm} to "
            f"{walls.stone_to_mm} mm",
            str(walls.stone_range_source),
            "measure it again at a door or window, or build the wall up from its layers",
        )
    if walls.bands.index(house.age_band) > walls.bands.index(walls.stone_last_band):
        yield Finding(
            "stone_wall_newer_than_formula",
            "ask",
            construction.name,
            f"the formula is for bare stone walls up to age band {walls.stone_last_band}; this house is of band "
            f"{house.age_band} ({reference.age_bands[house.age_band].years}), when walls were insulated",
            str(walls.stone_range_source),
            "look for insulation, and give the wall by its layers or its U-value",
        )


def _element(construction: ByTable, house: House, reference: Reference) -> tuple[float, str, Source]:
    row = reference.elements_u.get(construction.row)
    if row is None:
        raise _unknown_row(construction, reference.elements_u)
    return row.u_w_per_m2k, f"{row.element}, {row.description}", row.source


_LOOK_UP = {"wall_by_age": _wall_by_age, "stone_by_thickness": _stone_by_thickness, "element": _element}


def _unknown_row(construction: ByTable, rows: Iterable[str]) -> UnknownRow:
    said = f"the table {construction.table} has no row '{construction.row}'"
    return UnknownRow(construction, "row", said, f"one of {', '.join(rows)}")
