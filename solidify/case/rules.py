"""Rules that join several keys of a case; each is one function whose docstring is printed in the reference.

Rules read the tables as given, not the finished models, so that they speak even while other keys are wrong:
a key whose value was refused counts as given but has no value.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Any

from solidify.case.lines import KeyPath
from solidify.case.model import COOLING_KINDS
from solidify.errors import closest
from solidify.sources import load_data

__all__ = ["RULES", "Flaw", "Given", "shipped_limits", "spray_relations"]


@dataclass(frozen=True)
class Flaw:
    """One thing wrong with a case: the key it concerns and what to say of it.

    Parameters
    ----------
    path : tuple
        Where.
    said : str
        Continues the name of the key, e.g. ``"= 28 is outside 0.05 to 12 m/min"``.
    allowed, closest, do : str
        As in `solidify.errors.Problem`.
    """

    path: KeyPath
    said: str
    allowed: str = ""
    closest: str = ""
    do: str = ""


class Given:
    """The tables of a case as given, with the paths whose values were refused.

    Parameters
    ----------
    data : mapping
        As read from TOML.
    refused : set of tuple
        Paths at, above or below which a value is wrong.
    """

    def __init__(self, data: Mapping[str, Any], refused: set[KeyPath] = frozenset()) -> None:  # type: ignore[assignment]
        self.data = data
        self.refused = refused

    def _find(self, path: KeyPath) -> Any:
        value: Any = self.data
        for key in path:
            try:
                value = value[key]
            except (KeyError, IndexError, TypeError):
                return None
        return value

    def has(self, *path: str | int) -> bool:
        """Whether a key was given at all."""
        return self._find(path) is not None

    def get(self, *path: str | int, default: Any = None) -> Any:
        """Value of a key; `default` when it was not given, None when it or its table was refused."""
        if any(path[: len(bad)] == bad or bad[: len(path)] == path for bad in self.refused):
            return None
        value = self._find(path)
        return default if value is None else value

    def given(self, *path: str | int, of: tuple[str, ...]) -> list[str]:
        """Those keys of a table that were given."""
        return [key for key in of if self.has(*path, key)]

    @property
    def zones(self) -> Iterator[tuple[int, Mapping[str, Any]]]:
        """Position and table of every zone."""
        zones = self._find(("zone",))
        for index, zone in enumerate(zones if isinstance(zones, tuple) else ()):
            if isinstance(zone, Mapping):
                yield index, zone


Rule = Callable[[Given], Iterator[Flaw]]


def _number(value: Any) -> str:
    return f"{value:.10g}"


# ------------------------------------------------------------------------------------------------ steel

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


def steel_is_one_of_three(case: Given) -> Iterator[Flaw]:
    """The steel is a composition, or one's own numbers (all six of them), or a property file.

    Beside a composition only liquidus_C, solidus_C and density_kg_per_m3 may stand.
    """
    if not isinstance(case.data.get("steel"), Mapping):
        return
    own = case.given("steel", of=OWN_NUMBERS + LIQUID_NUMBERS)
    composition, file = case.has("steel", "composition"), case.has("steel", "property_file")
    if composition and file:
        yield Flaw(("steel", "property_file"), "stands beside a composition", do="keep one of the two")
    elif composition:
        for key in own:
            if key not in BESIDE_COMPOSITION:
                beside = ", ".join(BESIDE_COMPOSITION)
                yield Flaw(
                    ("steel", key),
                    "stands beside a composition, which gives its own",
                    f"beside a composition: {beside}",
                    do=f"drop {key}, or drop the composition and give all own numbers",
                )
    elif file:
        for key in own:
            yield Flaw(
                ("steel", key), "stands beside a property file", do=f"keep either {key} or property_file"
            )
    elif not own:
        yield Flaw(
            ("steel",),
            "says nothing of the steel",
            "composition = { C = ..., Si = ..., ... }, or own numbers, or property_file",
            do="add a composition in mass %",
        )
    else:
        missing = [key for key in OWN_NUMBERS if key not in own]
        if missing:
            yield Flaw(
                ("steel",),
                f"gives own numbers without {', '.join(missing)}",
                do="add them, or give a composition",
            )


def liquidus_is_above_solidus(case: Given) -> Iterator[Flaw]:
    """The solidus is not above the liquidus."""
    liquidus, solidus = case.get("steel", "liquidus_C"), case.get("steel", "solidus_C")
    if liquidus is not None and solidus is not None and solidus > liquidus:
        yield Flaw(
            ("steel", "solidus_C"),
            f"= {_number(solidus)} °C is above liquidus_C = {_number(liquidus)} °C",
            do="exchange the two or correct one",
        )


def composition_leaves_iron(case: Given) -> Iterator[Flaw]:
    """The elements of a composition together are at most 50 %."""
    elements = case.get("steel", "composition")
    if elements is not None and (total := sum(elements.values())) > 50:
        yield Flaw(
            ("steel", "composition"),
            f"adds up to {_number(total)} %, more than 50 %",
            "mass %, iron is the rest",
            do="give mass %, not ppm or fractions",
        )


def temperature_is_given_once(case: Given) -> Iterator[Flaw]:
    """Exactly one of superheat_K and tundish_temperature_C."""
    both = case.given("casting", of=("superheat_K", "tundish_temperature_C"))
    if len(both) == 2:
        yield Flaw(
            ("casting", "tundish_temperature_C"), "stands beside superheat_K", do="keep one of the two"
        )
    elif not both and isinstance(case.data.get("casting"), Mapping):
        yield Flaw(("casting",), "has neither superheat_K nor tundish_temperature_C", do="add one of the two")


# ---------------------------------------------------------------------------------------------- section


def section_has_its_sizes(case: Given) -> Iterator[Flaw]:
    """A round has a diameter; a slab and a rectangle have thickness and width, thickness not the larger."""
    shape = case.get("section", "shape")
    if shape is None:
        return
    wanted = ("diameter_mm",) if shape == "round" else ("thickness_mm", "width_mm")
    for key in ("thickness_mm", "width_mm", "diameter_mm"):
        if case.has("section", key) and key not in wanted:
            yield Flaw(
                ("section", key), f"does not belong to a {shape}", f"for a {shape}: {', '.join(wanted)}"
            )
    for key in wanted:
        if not case.has("section", key):
            yield Flaw(
                ("section",), f"{key} is missing", do=f"add {key}: a {shape} needs {' and '.join(wanted)}"
            )
    thickness, width = case.get("section", "thickness_mm"), case.get("section", "width_mm")
    if shape != "round" and thickness is not None and width is not None and thickness > width:
        yield Flaw(
            ("section", "thickness_mm"),
            f"= {_number(thickness)} mm is more than width_mm = {_number(width)} mm",
            do="exchange the two: the thickness is loose to fixed side and never the larger",
        )


# ------------------------------------------------------------------------------------------------ mould


def _working_length(case: Given) -> float | None:
    length, level = case.get("mould", "length_mm"), case.get("mould", "level_below_top_mm")
    return None if length is None or level is None or level >= length else (length - level) / 1000


def mould_is_longer_than_its_level(case: Given) -> Iterator[Flaw]:
    """The mould reaches below the steel level."""
    length, level = case.get("mould", "length_mm"), case.get("mould", "level_below_top_mm")
    if length is not None and level is not None and level >= length:
        yield Flaw(
            ("mould", "level_below_top_mm"),
            f"= {_number(level)} mm leaves nothing of a mould of length_mm = {_number(length)} mm",
            f"below {_number(length)} mm",
            do="correct the level or the length",
        )


FLUX_INPUTS = ("mean_heat_flux_MW_per_m2", "water_flow_L_per_min", "heat_flux_law")


def mould_flux_is_given_once(case: Given) -> Iterator[Flaw]:
    """The mould flux is a mean, or water flow and rise together, or a law, or nothing (handbook relation)."""
    given = case.given("mould", of=FLUX_INPUTS)
    for key in given[1:]:
        yield Flaw(
            ("mould", key),
            f"stands beside {given[0]}",
            "one of: mean_heat_flux_MW_per_m2; water_flow_L_per_min with water_rise_K; heat_flux_law; none",
            do="keep one",
        )
    flow, rise = case.has("mould", "water_flow_L_per_min"), case.has("mould", "water_rise_K")
    if flow and not rise:
        yield Flaw(
            ("mould", "water_flow_L_per_min"), "stands without water_rise_K", do="add the water's rise in K"
        )
    if rise and not flow:
        yield Flaw(
            ("mould", "water_rise_K"), "stands without water_flow_L_per_min", do="add the flow in L/min"
        )


def mould_keys_have_an_effect(case: Given) -> Iterator[Flaw]:
    """water_faces and water_gap_mm need a water flow, measured_at_speed a mean; a round has no wide face.

    The mean is mean_heat_flux_MW_per_m2, water flow and rise, or expected_mean_heat_flux_MW_per_m2.
    """
    flow = case.has("mould", "water_flow_L_per_min")
    for key in ("water_faces", "water_gap_mm"):
        if case.has("mould", key) and not flow:
            yield Flaw(
                ("mould", key), "has no effect without water_flow_L_per_min", do="add the flow or drop it"
            )
    if case.get("mould", "water_faces") == "one wide" and case.get("section", "shape") == "round":
        yield Flaw(("mould", "water_faces"), '= "one wide" does not fit a round', '"all"')
    if case.has("mould", "measured_at_speed_m_per_min") and not measured(case):
        yield Flaw(
            ("mould", "measured_at_speed_m_per_min"),
            "has no effect: no mean heat flux, water flow or expected mean is given",
            do="add one of them or drop it",
        )


def measured(case: Given) -> bool:
    """Whether something of the mould flux is tied to the speed at which it was measured."""
    keys = ("mean_heat_flux_MW_per_m2", "water_flow_L_per_min", "expected_mean_heat_flux_MW_per_m2")
    return bool(case.given("mould", of=keys))


# ------------------------------------------------------------------------------------------------ zones


def zones_follow_one_another(case: Given) -> Iterator[Flaw]:
    """Each zone ends after the one before it, the first after mould exit; names stand once."""
    before, what = _mould_exit(case), "mould exit"
    seen: dict[str, int] = {}
    for index, _ in case.zones:
        name, end = case.get("zone", index, "name"), case.get("zone", index, "end_m")
        if name is not None:
            if name in seen:
                yield Flaw(
                    ("zone", index, "name"), f'= "{name}" is taken by zone {seen[name] + 1}', do="rename one"
                )
            seen.setdefault(name, index)
        if end is None:
            continue
        if before is not None and end <= before:
            yield Flaw(
                ("zone", index, "end_m"),
                f"= {_number(end)} m is not after {what} at {_number(before)} m",
                do="list the zones in casting order and check what the distances are counted from",
            )
        before, what = end, f"the end of {_zone_name(index, name)}"


def _zone_name(index: int, name: str | None) -> str:
    return f"zone {index + 1}" if name is None else f'zone "{name}"'


def _mould_exit(case: Given) -> float | None:
    """Mould exit as the file counts distances [m]."""
    working, length = _working_length(case), case.get("mould", "length_mm")
    origin = case.get("machine", "distances_from", default="meniscus")
    if origin is None or working is None:
        return None
    return working if origin == "meniscus" else length / 1000


def zone_is_cooled_one_way(case: Given) -> Iterator[Flaw]:
    """A zone has exactly one way of cooling; a dry zone says water_L_per_min = 0.

    Loose and fixed water stand together; narrow water stands beside them only.
    """
    for index, zone in case.zones:
        given = [kind for kind, keys in COOLING_KINDS.items() if any(key in zone for key in keys)]
        if not given:
            yield Flaw(
                ("zone", index),
                "has no cooling",
                "; ".join(COOLING_KINDS),
                do="add one of them; water_L_per_min = 0 is a dry zone",
            )
        for kind in given[1:]:
            key = next(key for key in COOLING_KINDS[kind] if key in zone)
            yield Flaw(
                ("zone", index, key), f"stands beside {given[0]}", "one way of cooling a zone", do="keep one"
            )
        sides = COOLING_KINDS["water_loose_L_per_min + water_fixed_L_per_min"]
        if any(key in zone for key in sides):
            for key in sides[:2]:
                if key not in zone:
                    yield Flaw(("zone", index), f"{key} is missing", do=f"add {key}: 0 when that side is dry")


def zone_fits_the_section(case: Given) -> Iterator[Flaw]:
    """A round takes no loose, fixed or narrow water, no sprayed_width_mm and no sprayed_faces = "wide".

    sprayed_width_mm is not more than the width of the section. Narrow water and sprayed_faces agree.
    """
    shape, width = case.get("section", "shape"), case.get("section", "width_mm")
    for index, zone in case.zones:
        faces, sprayed = case.get("zone", index, "sprayed_faces"), case.get("zone", index, "sprayed_width_mm")
        sides = case.given("zone", index, of=COOLING_KINDS["water_loose_L_per_min + water_fixed_L_per_min"])
        if shape == "round":
            if faces == "wide":
                yield Flaw(("zone", index, "sprayed_faces"), '= "wide" does not fit a round', '"all"')
            for key in sides[:1]:
                yield Flaw(
                    ("zone", index, key),
                    "does not fit a round, which is cooled alike all round",
                    "water_L_per_min",
                )
            if "sprayed_width_mm" in zone:
                yield Flaw(("zone", index, "sprayed_width_mm"), "does not fit a round", do="drop it")
        elif sprayed is not None and width is not None and sprayed > width:
            yield Flaw(
                ("zone", index, "sprayed_width_mm"),
                f"= {_number(sprayed)} mm is more than width_mm = {_number(width)} mm",
                f"up to {_number(width)} mm",
            )
        if faces == "wide" and "water_narrow_L_per_min" in zone:
            yield Flaw(
                ("zone", index, "water_narrow_L_per_min"),
                'stands beside sprayed_faces = "wide"',
                do='drop the narrow water or write sprayed_faces = "all"',
            )
        if faces == "all" and len(sides) == 2 and "water_narrow_L_per_min" not in zone:
            yield Flaw(
                ("zone", index, "sprayed_faces"),
                '= "all" but no water is given for the narrow faces',
                do="add water_narrow_L_per_min or drop sprayed_faces",
            )


SPRAY_KEYS = ("sprayed_faces", "sprayed_width_mm", "spray_relation")
SURFACE_KEYS = (
    "spray_factor",
    "emissivity",
    "ambient_temperature_C",
    "natural_convection_W_per_m2K",
    "water_temperature_C",
    "roll_contact_W_per_m2K",
    "roll_contact_share",
    "view_factor",
)


def zone_keys_have_an_effect(case: Given) -> Iterator[Flaw]:
    """A coefficient takes no faces, width or relation of the spray, a whole flux no key of the surface.

    Such keys would have no effect beside heat_transfer_W_per_m2K or heat_flux_kW_per_m2.
    """
    for index, zone in case.zones:
        whole = "heat_flux_kW_per_m2" in zone
        if not whole and "heat_transfer_W_per_m2K" not in zone:
            continue
        kind = "heat_flux_kW_per_m2" if whole else "heat_transfer_W_per_m2K"
        for key in SPRAY_KEYS + (SURFACE_KEYS if whole else ()):
            if key in zone:
                yield Flaw(("zone", index, key), f"has no effect beside {kind}", do="drop it")


def water_table_rises(case: Given) -> Iterator[Flaw]:
    """The speeds of water_at_speed rise from row to row."""
    for index, _ in case.zones:
        rows = case.get("zone", index, "water_at_speed") or ()
        for row, (before, after) in enumerate(pairwise(rows)):
            if after[0] <= before[0]:
                yield Flaw(
                    ("zone", index, "water_at_speed", row + 1),
                    f"has {_number(after[0])} m/min after {_number(before[0])} m/min",
                    "rising speeds",
                    do="sort the rows by speed, each speed once",
                )


def roll_contact_is_given_once(case: Given) -> Iterator[Flaw]:
    """Roll contact is a coefficient or a share, in [cooling] and in each zone."""
    for path in (("cooling",), *(("zone", index) for index, _ in case.zones)):
        if len(case.given(*path, of=("roll_contact_W_per_m2K", "roll_contact_share"))) == 2:
            yield Flaw(
                (*path, "roll_contact_share"),
                "stands beside roll_contact_W_per_m2K",
                do="keep one of the two",
            )


@cache
def spray_relations() -> tuple[str, ...]:
    """Names of the spray relations that ship."""
    return tuple(name for name, fields in load_data("spray.toml").items() if "form" in fields)


def spray_relation_is_known(case: Given) -> Iterator[Flaw]:
    """Every spray_relation is one that ships."""
    names = spray_relations()
    for path in (("cooling",), *(("zone", index) for index, _ in case.zones)):
        name = case.get(*path, "spray_relation")
        if names and name is not None and name not in names:
            yield Flaw(
                (*path, "spray_relation"),
                f'= "{name}" is not a known relation',
                ", ".join(sorted(names)),
                closest(name, names),
            )


# ---------------------------------------------------------------------------------------------- machine


def machine_stays_on_the_strand(case: Given) -> Iterator[Flaw]:
    """Zones, vertical part and last support end before the cut-off; the last two lie below the mould."""
    cutoff, mould_exit = case.get("machine", "cutoff_m"), _mould_exit(case)
    paths: list[KeyPath] = [("zone", index, "end_m") for index, _ in case.zones]
    paths += [("machine", "vertical_length_m"), ("machine", "support_end_m")]
    for path in paths if cutoff is not None else ():
        end = case.get(*path)
        if end is not None and end > cutoff:
            yield Flaw(
                path,
                f"= {_number(end)} m is beyond cutoff_m = {_number(cutoff)} m",
                f"up to {_number(cutoff)} m",
                do="correct it or the cut-off",
            )
    for key in ("support_end_m", "cutoff_m"):
        end = case.get("machine", key)
        if end is not None and mould_exit is not None and end <= mould_exit:
            yield Flaw(
                ("machine", key),
                f"= {_number(end)} m is not below mould exit at {_number(mould_exit)} m",
                do="check what the distances are counted from",
            )


def machine_points_are_in_order(case: Given) -> Iterator[Flaw]:
    """Bending points in order, then straightening points in order, all between mould exit and cut-off."""
    cutoff, before, what = case.get("machine", "cutoff_m"), _mould_exit(case), "mould exit"
    for key, word in (("bending_m", "bending"), ("straightener_m", "straightening")):
        points = case.get("machine", key) or ()
        for position, point in enumerate(points):
            if before is not None and point <= before:
                yield Flaw(
                    ("machine", key, position),
                    f"= {_number(point)} m is not after {what} at {_number(before)} m",
                    do="put the points in order",
                )
            before, what = point, f"the {word} point before it"
        beyond = [point for point in points if cutoff is not None and point > cutoff]
        if beyond:
            yield Flaw(
                ("machine", key, points.index(beyond[0])),
                f"= {_number(beyond[0])} m is beyond cutoff_m = {_number(cutoff)} m",
                f"up to {_number(cutoff)} m",
                do="correct it or the cut-off",
            )


def radii_match_the_straightener(case: Given) -> Iterator[Flaw]:
    """radius_after_m has one radius for each straightening point, rising, and needs radius_m."""
    if not case.has("machine", "radius_after_m"):
        return
    radii, points = case.get("machine", "radius_after_m"), case.get("machine", "straightener_m", default=())
    path = ("machine", "radius_after_m")
    if not case.has("machine", "radius_m"):
        yield Flaw(path, "stands without radius_m", do="add the radius of the arc, radius_m")
    if radii is None or points is None:
        return
    if len(radii) != len(points):
        yield Flaw(
            path, f"has {len(radii)} radii for {len(points)} straightening points", do="give one for each"
        )
    previous = case.get("machine", "radius_m")
    for position, radius in enumerate(radii):
        if previous is not None and radius <= previous and not math.isinf(radius):
            yield Flaw(
                (*path, position),
                f"= {_number(radius)} m does not straighten: {_number(previous)} m comes before it",
            )
        previous = radius


# ----------------------------------------------------------------------------------------------- limits


@cache
def shipped_limits() -> Mapping[str, Mapping[str, Any]]:
    """The limits that ship, by name: label, unit, sense, bounds."""
    return load_data("limits", "default.toml")["limit"]


def limits_are_known(case: Given) -> Iterator[Flaw]:
    """[limits] names shipped limits; a number for "at least" and "at most", [low, high] for "within"."""
    overrides = case.get("limits")
    if not isinstance(overrides, Mapping):
        return
    limits = shipped_limits()
    for name, value in overrides.items():
        path = ("limits", name)
        if name not in limits:
            yield Flaw(path, "is not a limit", ", ".join(sorted(limits)), closest(name, limits))
            continue
        limit = limits[name]
        low, high = limit["bounds"]
        unit = limit["unit"]
        pair = limit["sense"] == "within"
        numbers = value if isinstance(value, tuple) else (value,)
        if (
            len(numbers) != (2 if pair else 1)
            or isinstance(value, tuple) != pair
            or not all(map(_is_number, numbers))
        ):
            yield Flaw(
                path, f"must be {'[low, high]' if pair else 'a number'}", f"{low:g} to {high:g} {unit}"
            )
        elif not all(low <= number <= high for number in numbers):
            shown = ", ".join(_number(n) for n in numbers)
            yield Flaw(path, f"= {f'[{shown}]' if pair else shown} is outside {low:g} to {high:g} {unit}")
        elif pair and not numbers[0] < numbers[1]:
            yield Flaw(path, f"= [{numbers[0]:g}, {numbers[1]:g}] has its low end first", "[low, high]")


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


RULES: tuple[Rule, ...] = (
    steel_is_one_of_three,
    liquidus_is_above_solidus,
    composition_leaves_iron,
    section_has_its_sizes,
    temperature_is_given_once,
    mould_is_longer_than_its_level,
    mould_flux_is_given_once,
    mould_keys_have_an_effect,
    zones_follow_one_another,
    zone_is_cooled_one_way,
    zone_fits_the_section,
    zone_keys_have_an_effect,
    water_table_rises,
    roll_contact_is_given_once,
    spray_relation_is_known,
    machine_stays_on_the_strand,
    machine_points_are_in_order,
    radii_match_the_straightener,
    limits_are_known,
)
"""Every rule, in the order of the file."""
