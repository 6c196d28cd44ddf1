"""Why a unit may stand where it stands: noise, zone, planning, ground."""

from collections.abc import Iterator

from models.design import base, condensate, noise, refrigerant_zone, siting
from models.estimate import Estimate
from models.sources import Source
from models.survey import Position
from models.survey.site import told_apart
from models.why.entry import Entry, entry as _entry, given as _given, of as _of, said as _said, surveyed as _input


def entries(estimate: Estimate) -> Iterator[Entry]:
    """The reasons, in the order of the document."""
    yield from _place(estimate)


def _place(estimate: Estimate) -> Iterator[Entry]:
    design = estimate.design
    chosen = next((one for one in design.sitings if one.position_id == design.position_id), None)
    position = next((one for one in estimate.survey.positions if one.id == design.position_id), None)
    if chosen is None or position is None:
        return
    asked = estimate.choices.position_id
    yield _entry(
        "design.position_id",
        "fewest findings that stop, then fewest to be accepted, then the shortest route" if asked is None
        else "as asked for",
        [
            (f"{one.name}: {strength}",
             sum(finding.strength == strength for finding in (*one.findings, *one.ground_findings)))
            for one in design.sitings
            for strength in ("stop", "ask")
        ],
        Source("the firm's ranking of positions", standing="firm's rule"),
        inputs=[] if asked is None else [_given("position asked for", "id", asked, "told")],
    )  # fmt: skip
    yield _entry(
        "design.planning",
        "the rows of the nation's order on the day, each met, broken or open",
        [],
        siting.SOURCE,
        sentence=f"{chosen.name}: {chosen.planning.replace('_', ' ')}: {'; '.join(chosen.planning_reasons)}",
    )
    limit, record = estimate.rules.place.noise_limit_at(estimate.survey.house.nation, estimate.priced_on)
    for window, at in zip(position.windows, chosen.noise, strict=True):
        path = f"design.noise.{at.where}"
        inputs = [
            _input("distance of the window", window, "distance_m"), _input("its height", window, "height_m"),
            _input("what is seen of the unit", window, "view"),
            _input("surfaces that throw sound back", position, "reflecting_surfaces"),
        ]  # fmt: skip
        spread_db = at.units_dba - at.sound_power_dba - at.barrier_db
        spread = "10 lg(directivity / (4 pi distance^2))" if limit.steps is None else "the table's step for distance"
        background = [] if limit.background_dba is None else [("background_dba", limit.background_dba)]
        yield _entry(
            f"{path}.level_dba",
            f"sound power of all units + {spread} + barrier"
            + (", then with the background by energy" if background else ""),
            [*_of(at, "sound_power_dba", "directivity", "distance_m"), ("spread_db", spread_db),
             ("barrier_db", at.barrier_db), *background, ("level_dba", at.level_dba)],
            noise.SOURCE,
            sentence=_said(noise.WHY, at),
            inputs=inputs,
        )  # fmt: skip
        yield _entry(
            f"{path}.limit_dba",
            "the limit of the nation on the day of pricing",
            [("limit_dba", at.limit_dba)],
            record.source,
        )
        for figure in ("passes", "pass_distance_m"):
            yield _entry(
                f"{path}.{figure}",
                "the level is not above the limit; it would just pass at the distance",
                _of(at, "level_dba", "limit_dba", "pass_distance_m"),
                noise.SOURCE,
                inputs=inputs,
            )
    if design.condensate is not None and design.condensate.to != "undecided":
        yield _entry(
            "design.condensate.volume_m3",
            "what melts off the units, held as the ground lets it away, in the voids of the gravel",
            _of(design.condensate, "width_m", "depth_m", "pipe_m", "volume_m3"),
            condensate.SOURCE,
            sentence=_said(condensate.WHY, design.condensate),
            inputs=[_input("where the meltwater goes", position, "condensate_to"), _input("ground", position, "ground"),
                    _input("water table", position, "water_table"), _input("percolation", position, "percolation")],
        )  # fmt: skip
    if design.base is not None:
        yield _entry(
            "design.base.volume_m3",
            "length x width x thickness; the slab overhangs the units on every side",
            _of(design.base, "length_m", "width_m", "thickness_m", "sub_base_m", "dig_m3", "volume_m3"),
            base.SOURCE,
            sentence=_said(base.WHY, design.base).replace("_", " "),
            inputs=[_input("ground", position, "ground"), _input("slope", position, "slope_ratio")],
        )
    yield from _ground(estimate, position)
    yield from _surroundings(estimate)


def _ground(estimate: Estimate, position: Position) -> Iterator[Entry]:
    """Base and pit: why each size is what it is."""
    footing, pit, unit = estimate.design.base, estimate.design.condensate, estimate.design.unit
    tables, machine = estimate.rules.place, unit.unit
    on_ground = [_input("ground", position, "ground"), _input("slope", position, "slope_ratio")]
    if footing is not None and machine is not None:
        at, table = "design.base", tables.slab
        yield _entry(f"{at}.type", footing.reason, [("mass_kg", machine.mass_kg)], table.source, inputs=on_ground)
        if footing.type != "wall_bracket":
            yield _entry(
                f"{at}.thickness_m",
                "by the ground, out of the firm's table" if footing.thickness_m else "nothing is cast under blocks",
                [(f"{ground}: thickness_mm", depth_mm) for ground, depth_mm in table.thickness_mm.items()],
                table.source,
                inputs=on_ground[:1],
            )
            between_mm = max(machine.clear_left_mm, machine.clear_right_mm)
            yield _entry(
                f"{at}.length_m",
                "units x width + the distance between them + 2 x overhang",
                [("count", unit.count), ("width_mm", machine.width_mm), ("between_mm", between_mm),
                 ("overhang_mm", table.overhang_mm), ("length_m", footing.length_m)],
                table.source,
            )  # fmt: skip
            yield _entry(
                f"{at}.width_m",
                "depth of the unit + 2 x overhang",
                [("depth_mm", machine.depth_mm), ("overhang_mm", table.overhang_mm), ("width_m", footing.width_m)],
                table.source,
            )
            yield _entry(
                f"{at}.dig_m3",
                "area x (sub-base + slab below ground), and on a slope half the fall along the longer side",
                [*_of(footing, "area_m2", "sub_base_m", "thickness_m"), ("above_ground_mm", table.above_ground_mm),
                 ("slope_ratio", position.slope_ratio), ("dig_m3", footing.dig_m3)],
                table.source,
                inputs=on_ground,
            )  # fmt: skip
    if pit is None or machine is None or pit.to != "soakaway":
        return
    at, pits = "design.condensate", tables.soakaway
    frost_mm = pits.usual_frost_depth_mm if isinstance(position.frost_depth_mm, str) else position.frost_depth_mm
    yield _entry(
        f"{at}.depth_m",
        "the usual depth, or deeper where the frost and what lies below it go deeper",
        [("usual_depth_mm", pits.depth_mm), ("frost_depth_mm", frost_mm), ("below_frost_mm", pits.below_frost_mm),
         ("depth_m", pit.depth_m)],
        pits.source,
        inputs=[_input("depth of frost", position, "frost_depth_mm")],
    )  # fmt: skip
    daily_l, held_days = machine.condensate_l_per_day * unit.count, pits.held_days[position.ground]
    yield _entry(
        f"{at}.width_m",
        "root of (water a day x days held / (voids x depth)), up to the next practical side",
        [("water_l_per_day", daily_l), ("held_days", held_days), ("void_ratio", pits.void_ratio),
         ("depth_m", pit.depth_m),
         ("side_needed_m", condensate.side_needed_m(daily_l=daily_l, held_days=held_days, void_ratio=pits.void_ratio,
                                                    depth_m=pit.depth_m)),
         ("width_m", pit.width_m)],
        pits.source,
        inputs=[_input("ground", position, "ground"), _input("percolation", position, "percolation")],
    )  # fmt: skip
    yield _entry(
        f"{at}.gravel_10mm_m3",
        "bags on top x what a bag weighs / what a cubic metre weighs",
        [("top_bags", pits.top_bags), ("bag_kg", pits.bag_kg), ("gravel_kg_per_m3", pits.gravel_kg_per_m3),
         ("gravel_10mm_m3", pit.gravel_10mm_m3)],
        pits.source,
    )  # fmt: skip
    yield _entry(
        f"{at}.gravel_20mm_m3",
        "the pit - its standing pipe - the gravel on top",
        [("volume_m3", pit.volume_m3), ("standing_pipe_od_mm", pits.standing_pipe_od_mm),
         *_of(pit, "standing_pipe_m", "gravel_10mm_m3", "gravel_20mm_m3")],
        pits.source,
    )  # fmt: skip


def _surroundings(estimate: Estimate) -> Iterator[Entry]:
    """Clearances and protective zone of every surveyed position."""
    positions = {position.id: position for position in estimate.survey.positions}
    for judged in estimate.design.sitings:
        position, at = positions[judged.position_id], f"design.positions.{judged.position_id}"
        for side, needed_mm, there_mm, _ in judged.clearances:
            yield _entry(
                f"{at}.clearances.{side}",
                "what the maker asks for against what is there",
                [("needed_mm", needed_mm), ("there_mm", there_mm)],
                siting.SOURCE,
                sentence=f"{judged.name}, {side}: {needed_mm} mm needed, {there_mm} mm there",
                inputs=[_input(f"room {side}", position, f"clear_{side}_mm")],
            )
        names = told_apart([opening.name for opening in position.openings])
        openings = dict(zip(names, position.openings, strict=True))
        for near in judged.zone:
            where = openings.get(near.name) if near.what != "isolator" else position.isolator
            yield _entry(
                f"{at}.zone.{near.name}",
                "inside where it is nearer than the maker's zone reaches and lower than its top; what lies at or below "
                "the ground whatever its height, since the gas is heavier than air",
                _of(near, "distance_m", "reach_m", "height_m", "zone_top_m"),
                refrigerant_zone.SOURCE,
                sentence=_said(refrigerant_zone.WHY, near),
                inputs=[] if where is None else [_input("its distance", where, "distance_m"),
                                                 _input("its height", where, "height_m")],
            )  # fmt: skip
