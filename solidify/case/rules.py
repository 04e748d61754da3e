"""Rules that join several keys of a case; each is one function whose docstring is printed in the reference.

Rules read the tables as given, not the finished models, so that they speak even while other keys are wrong:
a key whose value was refused counts as given but has no value.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from itertools import pairwise

from solidify.case.given import Issue, RawCase, Rule, unknown_relations
from solidify.case.limit_rules import ductility_is_told_once, limits_are_known
from solidify.case.model import STEEL_RELATIONS
from solidify.case.paths import KeyPath
from solidify.case.trap_rules import TRAP_RULES, swapped_sizes
from solidify.case.values import plain
from solidify.case.width import WIDTH_RULES
from solidify.case.zone_rules import ZONE_RULES, mould_exit
from solidify.heat.mould import LUBRICANTS, default_relation, mean_flux_range, mean_flux_relations
from solidify.steel.properties import LEAST_FADE
from solidify.units import MW

__all__ = ["FLUX", "MEASURED", "MEASURED_ON", "RULES"]

SHAPES = ("slab", "rectangle", "round")

OWN_NUMBERS = (
    "liquidus_C",
    "solidus_C",
    "latent_heat_kJ_per_kg",
    "density_kg_per_m3",
    "specific_heat_J_per_kgK",
    "conductivity_W_per_mK",
)
LIQUID_NUMBERS = ("liquid_specific_heat_J_per_kgK", "liquid_conductivity_W_per_mK")
BESIDE_COMPOSITION = ("liquidus_C", "solidus_C", "density_kg_per_m3")
OF_COMPOSITION = ("cooling_rate_K_per_s", *STEEL_RELATIONS)


def steel_is_one_of_three(case: RawCase) -> Iterator[Issue]:
    """The steel is a composition, or one's own numbers (all six of them), or a property file.

    Beside a composition only liquidus_C, solidus_C and density_kg_per_m3 may stand.
    """
    own = case.among("steel", keys=OWN_NUMBERS + LIQUID_NUMBERS)
    composition, file = case.has("steel", "composition"), case.has("steel", "property_file")
    missing = [key for key in OWN_NUMBERS if key not in own]
    if composition and file:
        yield Issue(("steel", "property_file"), "stands beside a composition", do="keep one of the two")
    if file:
        for key in own:
            yield Issue(
                ("steel", key), "stands beside a property file", do=f"keep either {key} or property_file"
            )
    elif composition:
        for key in own:
            if key not in BESIDE_COMPOSITION:
                allowed = f"beside a composition: {', '.join(BESIDE_COMPOSITION)}"
                do = "drop it, or drop the composition and give all own numbers"
                yield Issue(("steel", key), "stands beside a composition, which has its own", allowed, do=do)
    elif own and missing:
        do = "add them, or give a composition"
        yield Issue(("steel",), f"gives own numbers without {', '.join(missing)}", do=do)
    elif not own and case.table("steel"):
        allowed = f"composition; or {', '.join(OWN_NUMBERS)}; or property_file"
        yield Issue(
            ("steel",), "says nothing of the steel", allowed, do="composition = { C = 0.45, Si = 0.25, ... }"
        )


def steel_relations_belong_to_a_composition(case: RawCase) -> Iterator[Issue]:
    """The cooling rate and the relations of the steel stand beside a composition, each relation one that ships."""
    for key in case.among("steel", keys=OF_COMPOSITION):
        if not case.has("steel", "composition"):
            yield Issue(("steel", key), "has no effect without a composition", do="drop it")
    yield from unknown_relations(case, ("steel",), STEEL_RELATIONS)


def liquidus_is_above_solidus(case: RawCase) -> Iterator[Issue]:
    """The solidus is not above the liquidus."""
    liquidus, solidus = case.get("steel", "liquidus_C"), case.get("steel", "solidus_C")
    if liquidus is not None and solidus is not None and solidus > liquidus:
        message = f"= {plain(solidus)} °C is above liquidus_C = {plain(liquidus)} °C"
        yield Issue(("steel", "solidus_C"), message, do="exchange the two or correct one")


def stirring_fades_upwards(case: RawCase) -> Iterator[Issue]:
    """The two liquid fractions of stirred_liquid_fraction rise, by 0.05 or more."""
    path = ("steel", "stirred_liquid_fraction")
    limits = case.get(*path)
    if limits is not None and limits[1] < limits[0] + LEAST_FADE - 1e-9:
        message = f"= [{plain(limits[0])}, {plain(limits[1])}]"
        do = "give the fraction up to which nothing is stirred, then the one from which all is"
        yield Issue(path, message, f"two that rise by {LEAST_FADE:g} or more", do=do)


def section_has_its_sizes(case: RawCase) -> Iterator[Issue]:
    """A round has a diameter; a slab and a rectangle have thickness and width, thickness not the larger."""
    shape = case.get("section", "shape")
    if shape is None:
        return
    wanted = ("diameter_mm",) if shape == "round" else ("thickness_mm", "width_mm")
    for key in case.among("section", keys=("thickness_mm", "width_mm", "diameter_mm")):
        if key not in wanted:
            yield Issue(("section", key), f"does not belong to a {shape}", ", ".join(wanted), do="drop it")
    for key in wanted:
        if not case.has("section", key):
            do = f"add it: a {shape} has {' and '.join(wanted)}"
            yield Issue(("section",), f"{key} is missing", do=do)
    if shape != "round" and swapped_sizes(case):
        thickness, width = (plain(case.data["section"][key]) for key in ("thickness_mm", "width_mm"))
        message = f"= {thickness} mm is more than width_mm = {width} mm: thickness and width swapped?"
        do = "exchange the two: the thickness is loose to fixed side and never the larger"
        yield Issue(("section", "thickness_mm"), message, do=do)


def product_fits_its_shape(case: RawCase) -> Iterator[Issue]:
    """A round is the product of a round section, and of no other."""
    shape, product = case.get("section", "shape"), case.get("section", "product")
    if shape is not None and product is not None and (shape == "round") != (product == "round"):
        allowed = "round" if shape == "round" else "slab, thin slab, bloom, billet"
        message = f'= "{product}" is not the product of a section of shape "{shape}"'
        yield Issue(("section", "product"), message, allowed, do="correct one of the two, or drop product")


def temperature_is_given_once(case: RawCase) -> Iterator[Issue]:
    """Exactly one of superheat_K and tundish_temperature_C."""
    both = case.among("casting", keys=("superheat_K", "tundish_temperature_C"))
    if len(both) == 2:
        yield Issue(("casting", both[1]), f"stands beside {both[0]}", do="keep one of the two")
    elif not both and case.table("casting"):
        do = "add one of the two"
        yield Issue(("casting",), "has neither superheat_K nor tundish_temperature_C", do=do)


def mould_is_longer_than_its_level(case: RawCase) -> Iterator[Issue]:
    """The mould reaches below the steel level."""
    length, level = case.get("mould", "length_mm"), case.get("mould", "level_below_top_mm")
    if length is not None and level is not None and level >= length:
        message = f"= {plain(level)} mm leaves nothing of a mould of length_mm = {plain(length)} mm"
        yield Issue(
            ("mould", "level_below_top_mm"), message, f"below {plain(length)} mm", do="correct one of the two"
        )


FLOW, FACE_FLOW = "water_flow_L_per_min", "face_water_flow_L_per_min"
RISE, FACE_RISE = "water_rise_K", "face_water_rise_K"
RISES = {FLOW: RISE, FACE_FLOW: FACE_RISE}
"""Which rise stands with which flow."""
MEANS, LAW = "mean_heat_flux_at_speed", "heat_flux_law"
FLUX = ("mean_heat_flux_MW_per_m2", MEANS, RISE, FACE_RISE, LAW)
MEASURED = ("mean_heat_flux_MW_per_m2", RISE, FACE_RISE, "expected_mean_heat_flux_MW_per_m2")
"""What belongs to the speed at which the mould flux was measured."""
MEASURED_ON = (*MEASURED, MEANS)
"""What belongs to the steel on which the mould flux was measured."""
OF_HANDBOOK = ("handbook_relation", "powder_viscosity_Pa_s", "powder_melting_temperature_C")
PEAK = "peak_heat_flux_MW_per_m2"
OF_DECAY = ("decay_exponent", PEAK, "peritectic_early_share")


def mould_flux_is_given_once(case: RawCase) -> Iterator[Issue]:
    """The mould flux is a mean, or means over the speed, or water flow and rise, or a law, or none (handbook relation).

    Flow and rise are those of all the water, or stand face by face. A flow may stand beside a mean or a law.
    """
    ways, flows = case.among("mould", keys=FLUX), case.among("mould", keys=(FLOW, FACE_FLOW))
    for key in ways[1:]:
        allowed = "a mean; or means over the speed; or water flow and rise; or a law; or none"
        yield Issue(("mould", key), f"stands beside {ways[0]}", allowed, do="keep one")
    for key in flows[1:]:
        yield Issue(("mould", key), f"stands beside {FLOW}", "one flow, or flows face by face", do="keep one")
    for flow, rise in RISES.items():
        if rise in ways and flow not in flows:
            yield Issue(("mould", rise), f"stands without {flow}", do="add the flow in L/min")
    for flow in flows:
        rise = RISES[flow]
        if not ways:
            do = "add the rise in K, or the mean heat flux or a law beside the flow"
            yield Issue(("mould", flow), f"stands without {rise}", do=do)
        elif flow == FACE_FLOW and rise not in ways:
            do = f"add the rises, or give all the water as {FLOW}"
            yield Issue(("mould", flow), f"stands without {rise}", do=do)


def mould_flux_is_below_its_peak(case: RawCase) -> Iterator[Issue]:
    """A mean mould flux is below the peak that its law has, whether that is given or the default.

    With profile = "root" it is between the floor of that law and its cap.
    """
    shape, lubricant = case.get("section", "shape"), case.get("mould", "lubricant")
    profile = case.get("mould", "profile", default="decay")
    if shape not in SHAPES or lubricant not in LUBRICANTS or profile not in ("decay", "root"):
        return
    size = case.get("section", "diameter_mm" if shape == "round" else "thickness_mm")
    peak = case.get("mould", PEAK)
    if size is None or (peak is None and case.has("mould", PEAK)):
        return
    low, high = mean_flux_range(profile, shape, size / 1000, lubricant, None if peak is None else peak * MW)
    do = "check the unit, the water flow and rise, and the area they belong to"
    do += f", or give a higher {PEAK}" if profile == "decay" else ""
    rows = enumerate(case.get("mould", MEANS) or () if profile == "decay" else ())
    given: list[tuple[KeyPath, float | None]] = [(("mould", MEANS, i), row[1]) for i, row in rows]
    given += [(("mould", key), case.get("mould", key)) for key in (FLUX[0], MEASURED[-1])]
    for path, mean in given:
        if mean is not None and not low < mean * MW < high:
            allowed = f"above {plain(low / MW)} and below {plain(high / MW)} MW/m²"
            message = (
                f"= {plain(mean)} MW/m² is {'less' if mean * MW <= low else 'more'} than the law can have"
            )
            yield Issue(path, message, allowed, do=do)


def mould_faces_agree(case: RawCase) -> Iterator[Issue]:
    """Flow and rise face by face name the same faces; a round has no faces."""
    for key in case.among("mould", keys=(FACE_FLOW, FACE_RISE)):
        if case.get("section", "shape") == "round":
            do = f"give all the water as {FLOW} with its rise"
            yield Issue(("mould", key), "does not fit a round, which has no faces", do=do)
    flow, rise = case.get("mould", FACE_FLOW), case.get("mould", FACE_RISE)
    if isinstance(flow, Mapping) and isinstance(rise, Mapping) and flow.keys() != rise.keys():
        odd = ", ".join(sorted(flow.keys() ^ rise.keys()))
        message = f"and {FACE_FLOW} name other faces: {odd}"
        yield Issue(("mould", FACE_RISE), message, do="give both for each face")


def mould_keys_have_an_effect(case: RawCase) -> Iterator[Issue]:
    """water_faces, water_gap_mm and water_slot_mm2 need a water flow, copper_wall_mm needs the gap as well.

    water_faces = "one wide" does not fit a round; a slab mould with a gap has its slots in water_slot_mm2.
    measured_at_speed_m_per_min needs a mean heat flux, a water rise or an expected mean. Cycles and stroke of the
    oscillation stand together.
    """
    flows = case.among("mould", keys=(FLOW, FACE_FLOW))
    for key in case.among("mould", keys=("water_faces", "water_gap_mm", "water_slot_mm2")):
        if not flows or (key == "water_faces" and FLOW not in flows):
            do = "add the flow and rise of the water, or drop it"
            yield Issue(("mould", key), f"has no effect without {FLOW}", do=do)
    if case.has("mould", "copper_wall_mm") and not case.has("mould", "water_gap_mm"):
        do = "add the gap, or drop it"
        yield Issue(("mould", "copper_wall_mm"), "has no effect without water_gap_mm", do=do)
    slots = case.has("mould", "water_slot_mm2")
    if case.get("section", "shape") == "slab" and case.has("mould", "water_gap_mm") and not slots:
        do = "add the cross-section of the slots, or drop it"
        yield Issue(("mould", "water_gap_mm"), "has no effect for a slab without water_slot_mm2", do=do)
    if case.get("mould", "water_faces") == "one wide" and case.get("section", "shape") == "round":
        yield Issue(("mould", "water_faces"), '= "one wide" does not fit a round', '"all"')
    if case.has("mould", "measured_at_speed_m_per_min") and not case.among("mould", keys=MEASURED):
        message = "has no effect: no mean heat flux, water rise or expected mean is given"
        yield Issue(("mould", "measured_at_speed_m_per_min"), message, do="add one of them, or drop it")
    strokes = ("oscillation_cycles_per_min", "oscillation_stroke_mm")
    given = case.among("mould", keys=strokes)
    if len(given) == 1:
        (other,) = set(strokes) - set(given)
        yield Issue(("mould", given[0]), f"stands without {other}", do=f"add {other}, or drop it")


def mould_law_keys_have_an_effect(case: RawCase) -> Iterator[Issue]:
    """The speeds of mean_heat_flux_at_speed rise. A heat_flux_law is used as it stands and takes no key of its form.

    handbook_relation ships; it and the powder's numbers act where no flux is given, the numbers with cicutti_2002.
    decay_exponent, peak_heat_flux_MW_per_m2 and peritectic_early_share belong to profile = "decay".
    measured_at_carbon_equivalent_percent needs a measured or an expected flux.
    """
    for row, (before, after) in enumerate(pairwise(case.get("mould", MEANS) or ())):
        if after[0] <= before[0]:
            message = f"has {plain(after[0])} m/min after {plain(before[0])} m/min"
            path = ("mould", MEANS, row + 1)
            yield Issue(path, message, "rising speeds", do="sort the rows by speed, each speed once")
    ways = case.among("mould", keys=FLUX)
    of_handbook = case.among("mould", keys=OF_HANDBOOK)
    yield from unknown_relations(case, ("mould",), {"handbook_relation": mean_flux_relations()})
    for key in of_handbook if ways else ():
        yield Issue(("mould", key), f"has no effect beside {ways[0]}", do=f"drop it, or drop {ways[0]}")
    lubricant, shape = case.get("mould", "lubricant"), case.get("section", "shape")
    if not ways and lubricant in LUBRICANTS and shape in SHAPES:
        taken = case.get("mould", "handbook_relation") or default_relation(shape, lubricant)
        for key in of_handbook:
            if key != "handbook_relation" and taken != "cicutti_2002":
                do = 'drop it, or write handbook_relation = "cicutti_2002"'
                yield Issue(("mould", key), f"has no effect on the relation {taken}", do=do)
    older = case.get("mould", "profile") == "root"
    beside = LAW if LAW in ways else 'profile = "root"' if older else ""
    for key in case.among("mould", keys=OF_DECAY) if beside else ():
        yield Issue(("mould", key), f"has no effect beside {beside}", do="drop one of the two")
    if older and LAW in ways:
        yield Issue(("mould", "profile"), f'= "root" has no effect beside {LAW}', do="drop one of the two")
    if older and MEANS in ways:
        message = '= "root" takes one mean'
        yield Issue(
            ("mould", "profile"), message, '"decay"', do=f"drop it, or give one mean in place of {MEANS}"
        )
    key = "measured_at_carbon_equivalent_percent"
    if case.has("mould", key) and not case.among("mould", keys=MEASURED_ON):
        message = "has no effect: no mean heat flux, water rise or expected mean is given"
        yield Issue(("mould", key), message, do="add one of them, or drop it")


def machine_stays_on_the_strand(case: RawCase) -> Iterator[Issue]:
    """Zones, vertical part and last support end before the cut-off; the last two lie below the mould."""
    cutoff, exit_at = case.get("machine", "cutoff_m"), mould_exit(case)
    paths: list[KeyPath] = [(*zone, "end_m") for zone in case.zones]
    paths += [("machine", "vertical_length_m"), ("machine", "support_end_m")]
    for path in paths if cutoff is not None else ():
        end = case.get(*path)
        if end is not None and end > cutoff:
            message = f"= {plain(end)} m is beyond cutoff_m = {plain(cutoff)} m"
            yield Issue(path, message, f"up to {plain(cutoff)} m", do="correct it or the cut-off")
    for key in ("support_end_m", "cutoff_m"):
        end = case.get("machine", key)
        if end is not None and exit_at is not None and end <= exit_at:
            message = f"= {plain(end)} m is not below mould exit at {plain(exit_at)} m"
            yield Issue(("machine", key), message, do="check what the distances are counted from")


def machine_points_are_in_order(case: RawCase) -> Iterator[Issue]:
    """Bending points in order, then straightening points in order, all between mould exit and cut-off."""
    cutoff, before, what = case.get("machine", "cutoff_m"), mould_exit(case), "mould exit"
    for key, word in (("bending_m", "bending"), ("straightener_m", "straightening")):
        points = case.get("machine", key) or ()
        for position, point in enumerate(points):
            if before is not None and point <= before:
                message = f"= {plain(point)} m is not after {what} at {plain(before)} m"
                yield Issue(("machine", key, position), message, do="put the points in order")
            before, what = point, f"the {word} point before it"
        beyond = [point for point in points if cutoff is not None and point > cutoff]
        if beyond:
            message = f"= {plain(beyond[0])} m is beyond cutoff_m = {plain(cutoff)} m"
            path = ("machine", key, points.index(beyond[0]))
            yield Issue(path, message, f"up to {plain(cutoff)} m", do="correct it or the cut-off")


def radii_match_the_straightener(case: RawCase) -> Iterator[Issue]:
    """radius_after_m needs radius_m, and a radius for each straightening point, each larger than the last."""
    path = ("machine", "radius_after_m")
    if not case.has(*path):
        return
    if not case.has("machine", "radius_m"):
        yield Issue(path, "stands without radius_m", do="add the radius of the arc, radius_m")
    radii, points = case.get(*path), case.get("machine", "straightener_m", default=())
    if radii is None or points is None:
        return
    if len(radii) != len(points):
        message = f"counts {len(radii)}, straightener_m counts {len(points)}"
        yield Issue(path, message, do="give one for each point, inf where the strand is straight")
    before = case.get("machine", "radius_m")
    for position, radius in enumerate(radii):
        if before is not None and radius <= before and not (math.isinf(radius) and math.isinf(before)):
            message = f"= {plain(radius)} m does not straighten a radius of {plain(before)} m"
            yield Issue((*path, position), message, do="give rising radii")
        before = radius


def corners_belong_to_a_section_that_has_them(case: RawCase) -> Iterator[Issue]:
    """A round takes no key of the corners.

    The width of the corners stands beside a corner factor and is not more than half the thickness.
    """
    factors: list[KeyPath] = [("mould", "corner_heat_flux_factor")]
    factors += [(*table, "corner_spray_factor") for table in [("cooling",), *case.zones]]
    given, width = [path for path in factors if case.has(*path)], ("section", "corner_width_mm")
    if case.get("section", "shape") == "round":
        for path in [*given, *([width] if case.has(*width) else [])]:
            yield Issue(path, "does not fit a round, which has no corners", do="drop it")
    elif case.has(*width) and not given:
        message, do = "has no effect without a corner factor", "add a corner factor, or drop it"
        yield Issue(width, message, "corner_heat_flux_factor, corner_spray_factor", do=do)
    wide, thickness = case.get(*width), case.get("section", "thickness_mm")
    if wide is not None and thickness is not None and wide > thickness / 2:
        message = f"= {plain(wide)} mm is more than half of thickness_mm = {plain(thickness)} mm"
        yield Issue(width, message, f"up to {plain(thickness / 2)} mm", do="correct it")


RULES: tuple[Rule, ...] = (
    steel_is_one_of_three,
    steel_relations_belong_to_a_composition,
    liquidus_is_above_solidus,
    stirring_fades_upwards,
    section_has_its_sizes,
    product_fits_its_shape,
    corners_belong_to_a_section_that_has_them,
    temperature_is_given_once,
    mould_is_longer_than_its_level,
    mould_flux_is_given_once,
    mould_flux_is_below_its_peak,
    mould_faces_agree,
    mould_keys_have_an_effect,
    mould_law_keys_have_an_effect,
    *TRAP_RULES[1:],
    *ZONE_RULES,
    *WIDTH_RULES,
    machine_stays_on_the_strand,
    machine_points_are_in_order,
    radii_match_the_straightener,
    *TRAP_RULES[:1],
    limits_are_known,
    ductility_is_told_once,
)
"""Every rule, in the order of the file."""
