"""Rules of the cooling zones that join several keys; their docstrings are printed in the reference."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from itertools import chain, pairwise

from solidify.case.given import Issue, RawCase, Rule, unknown_relations
from solidify.case.model import (
    COOLING_KINDS,
    EMISSIVITY,
    NOZZLE_SPRAY,
    RELATIONS,
    ROLL_CONTACT,
    SIDES,
    SIDES_AT_SPEED,
    TOTALS,
    WATER_TABLES,
    WHOLE_FLUX,
)
from solidify.case.paths import KeyPath
from solidify.case.values import is_number, plain

__all__ = ["EACH_TABLE", "ZONE_RULES", "mould_exit"]

SHARE_SLACK = 0.002
"""What shares may miss of 1, as thirds to three decimals do."""


def mould_exit(case: RawCase) -> float | None:
    """Return where the mould ends.

    Parameters
    ----------
    case : RawCase
        The tables.

    Returns
    -------
    float or None
        As the file counts distances [m]; None where length, level or origin are not known.
    """
    length, level = case.get("mould", "length_mm"), case.get("mould", "level_below_top_mm")
    origin = case.get("machine", "distances_from", default="meniscus")
    if origin is None or length is None or level is None or level >= length:
        return None
    return (length - level if origin == "meniscus" else length) / 1000


def zones_follow_one_another(case: RawCase) -> Iterator[Issue]:
    """Each zone ends after the one before it, the first after mould exit; each has its own name."""
    before, what = mould_exit(case), "mould exit"
    seen: dict[str, KeyPath] = {}
    for zone in case.zones:
        name, end = case.get(*zone, "name"), case.get(*zone, "end_m")
        if name is not None and seen.setdefault(name, zone) != zone:
            message = f'= "{name}" is already the name of zone {_number(seen[name])}'
            yield Issue((*zone, "name"), message, do="rename one of the two")
        if end is None:
            continue
        if before is not None and end <= before:
            message = f"= {plain(end)} m is not after {what} at {plain(before)} m"
            do = "put the zones in casting order; check distances_from in [machine]"
            yield Issue((*zone, "end_m"), message, do=do)
        before, what = end, "the end of zone " + (f"{_number(zone)}" if name is None else f'"{name}"')


def _number(zone: KeyPath) -> int:
    """Count a zone from 1."""
    return int(zone[1]) + 1


COOLING_KEYS = tuple(chain.from_iterable(COOLING_KINDS.values()))


def zone_is_cooled_one_way(case: RawCase, zone: KeyPath) -> Iterator[Issue]:
    """A zone has exactly one way of cooling; a dry zone says water_L_per_min = 0.

    Loose and fixed water stand together; water of the narrow faces stands beside them only.
    """
    given = case.among(*zone, keys=COOLING_KEYS)
    ways = [way for way, keys in COOLING_KINDS.items() if any(key in given for key in keys)]
    if not ways:
        do = "add one of them; water_L_per_min = 0 is a dry zone"
        yield Issue(zone, "has no cooling", "; ".join(COOLING_KINDS), do=do)
    for way in ways[1:]:
        key = next(key for key in COOLING_KINDS[way] if key in given)
        yield Issue((*zone, key), f"stands beside {ways[0]}", "one way of cooling a zone", do="keep one")
    for sides, dry in ((SIDES, "0"), (SIDES_AT_SPEED, "zeros")):
        if any(key in given for key in sides):
            for key in sides[:2]:
                if key not in given:
                    yield Issue(zone, f"{key} is missing", do=f"add {key}, {dry} when that side is dry")


def side_shares_split_a_total(case: RawCase, zone: KeyPath) -> Iterator[Issue]:
    """Side shares add up to 1 and stand beside a total: water_L_per_min, water_at_speed or water_L_per_kg."""
    path = (*zone, "side_shares")
    if not case.has(*path):
        return
    if not case.among(*zone, keys=TOTALS):
        ways = case.among(*zone, keys=COOLING_KEYS)
        message = f"has no effect beside {ways[0]}" if ways else "has no total to split"
        yield Issue(path, message, " or ".join(TOTALS), do="give a total, or drop it")
    shares = [case.get(*path, side) for side in ("loose", "fixed")]
    shares.append(case.get(*path, "narrow", default=0.0))
    known = [share for share in shares if is_number(share)]
    if len(known) == len(shares) and abs(sum(known) - 1.0) > SHARE_SLACK:
        yield Issue(path, f"adds up to {plain(round(sum(known), 6))}", "1", do="correct a share")


OF_SIDES = (*SIDES, *SIDES_AT_SPEED)


def zone_fits_the_section(case: RawCase, zone: KeyPath) -> Iterator[Issue]:
    """A round is cooled alike all round: no water or shares by side, run-off, sprayed width or "wide" faces.

    The sprayed width of any other section is not more than its width.
    """
    shape, width = case.get("section", "shape"), case.get("section", "width_mm")
    sprayed = case.get(*zone, "sprayed_width_mm")
    if shape == "round":
        if case.get(*zone, "sprayed_faces") == "wide":
            yield Issue((*zone, "sprayed_faces"), '= "wide" does not fit a round', '"all"')
        unfit = (*OF_SIDES, "side_shares", "sprayed_width_mm", "spray_widths_mm", "run_off_W_per_m2K")
        for key in case.among(*zone, keys=unfit):
            do = "give all water of the zone as water_L_per_min" if key in OF_SIDES else "drop it"
            yield Issue((*zone, key), "does not fit a round, which is cooled alike all round", do=do)
    elif sprayed is not None and width is not None and sprayed > width:
        message = f"= {plain(sprayed)} mm is more than width_mm = {plain(width)} mm"
        do = "in studies of other widths, width_rule in [section] lets it follow"
        yield Issue((*zone, "sprayed_width_mm"), message, f"up to {plain(width)} mm", do=do)


def narrow_water_agrees_with_the_faces(case: RawCase, zone: KeyPath) -> Iterator[Issue]:
    """Beside water by side, sprayed_faces is "all" with narrow water and "wide" without."""
    faces = case.get(*zone, "sprayed_faces")
    for own, narrow in (
        (SIDES, (SIDES[2],)),
        (SIDES_AT_SPEED, (SIDES_AT_SPEED[2],)),
        (("side_shares",), ("side_shares", "narrow")),
    ):
        if not case.among(*zone, keys=own):
            continue
        given = case.has(*zone, *narrow)
        if faces == "wide" and given:
            do = 'drop the narrow water or write sprayed_faces = "all"'
            yield Issue((*zone, *narrow), 'stands beside sprayed_faces = "wide"', do=do)
        if faces == "all" and not given:
            do = f"add {'.'.join(narrow)} or drop sprayed_faces"
            message = '= "all" but the narrow faces have no water'
            yield Issue((*zone, "sprayed_faces"), message, do=do)


SPRAY_KEYS = (
    "sprayed_faces",
    "sprayed_width_mm",
    "spray_widths_mm",
    "spray_relation",
    "wetted_share",
    "drop_velocity_m_per_s",
    "water_min_L_per_min",
    "water_max_L_per_min",
)
SURFACE_KEYS = (
    "spray_factor",
    *EMISSIVITY,
    "ambient_temperature_C",
    "natural_convection_W_per_m2K",
    "water_temperature_C",
    *ROLL_CONTACT,
    "roll_radius_mm",
    "roll_contact_angle_deg",
    "run_off_W_per_m2K",
    "view_factor",
    "corner_spray_factor",
)


def zone_keys_have_an_effect(case: RawCase, zone: KeyPath) -> Iterator[Issue]:
    """A coefficient takes no faces, width or relation of the spray, a whole flux no key of the surface.

    Such keys would have no effect beside heat_transfer_W_per_m2K or heat_flux_kW_per_m2.
    """
    whole = case.has(*zone, WHOLE_FLUX)
    if whole or case.has(*zone, "heat_transfer_W_per_m2K"):
        beside = WHOLE_FLUX if whole else "heat_transfer_W_per_m2K"
        for key in case.among(*zone, keys=SPRAY_KEYS + (SURFACE_KEYS if whole else ())):
            yield Issue((*zone, key), f"has no effect beside {beside}", do="drop it")


def water_table_rises(case: RawCase, zone: KeyPath) -> Iterator[Issue]:
    """The speeds of water_at_speed and of the tables by side rise from row to row."""
    for key in case.among(*zone, keys=WATER_TABLES):
        rows = case.get(*zone, key) or ()
        for row, (before, after) in enumerate(pairwise(rows)):
            if after[0] <= before[0]:
                message = f"has {plain(after[0])} m/min after {plain(before[0])} m/min"
                path = (*zone, key, row + 1)
                yield Issue(path, message, "rising speeds", do="sort the rows by speed, each speed once")


def surface_is_given_once(case: RawCase, table: KeyPath) -> Iterator[Issue]:
    """Roll contact is a coefficient, a share or a relation, emissivity a number or a relation, in each table."""
    for keys in (ROLL_CONTACT, EMISSIVITY):
        first, *others = case.among(*table, keys=keys) or [""]
        for key in others:
            yield Issue((*table, key), f"stands beside {first}", do="keep one of the two")


COOLING = ("cooling",)
ROLLS = ("roll_radius_mm", "roll_contact_angle_deg")


def _zones(case: RawCase) -> list[KeyPath]:
    return case.zones


def _surfaces(case: RawCase) -> list[KeyPath]:
    """Where the tables stand that tell how a surface loses heat."""
    return [COOLING, *case.zones]


def roll_relation_knows_its_rolls(case: RawCase) -> Iterator[Issue]:
    """A zone with roll_contact_relation has a roll pitch, and roll radius and contact angle of its own or common.

    Radius and contact angle have no effect where no zone takes roll contact by a relation.
    """
    taken: set[KeyPath] = set()
    for zone in case.zones:
        own = case.among(*zone, keys=ROLL_CONTACT)
        home = zone if own else COOLING
        if not case.has(*home, "roll_contact_relation") or case.has(*zone, WHOLE_FLUX):
            continue
        taken |= {COOLING, zone}
        missing = [key for key in ROLLS if not case.has(*zone, key) and not case.has(*COOLING, key)]
        missing += [] if case.has(*zone, "roll_pitch_m") else ["roll_pitch_m"]
        if missing:
            message = f"takes roll contact by a relation without {', '.join(missing)}"
            yield Issue(zone, message, do="add it, or give roll_contact_W_per_m2K")
    for table in _surfaces(case):
        for key in case.among(*table, keys=ROLLS):
            if table not in taken:
                do = "add it, or drop this"
                yield Issue((*table, key), "has no effect without roll_contact_relation", do=do)


def nozzles_are_described_whole(case: RawCase, zone: KeyPath) -> Iterator[Issue]:
    """The sprays of nozzles take all of angles, stand-off, row pitch and nozzles across, or none.

    They stand in place of a wetted share of the zone.
    """
    path = (*zone, "nozzles")
    given = case.among(*path, keys=NOZZLE_SPRAY)
    missing = [key for key in NOZZLE_SPRAY if key not in given]
    if given and missing:
        do = "give all of them, or none"
        yield Issue(path, f"has {given[0]} without {', '.join(missing)}", do=do)
    if given and case.has(*zone, "wetted_share"):
        message = f"stands beside {given[0]} of the nozzles, which gives it"
        yield Issue((*zone, "wetted_share"), message, do="keep one of the two")


def valve_limits_are_in_order(case: RawCase, zone: KeyPath) -> Iterator[Issue]:
    """The least water of a valve is not above the most."""
    low, high = case.get(*zone, "water_min_L_per_min"), case.get(*zone, "water_max_L_per_min")
    if low is not None and high is not None and low > high:
        message = f"= {plain(low)} L/min is above water_max_L_per_min = {plain(high)} L/min"
        yield Issue((*zone, "water_min_L_per_min"), message, do="exchange the two or correct one")


def relations_are_known(case: RawCase, table: KeyPath) -> Iterator[Issue]:
    """Every relation that is named, of spray, emissivity or roll contact, is one that ships."""
    return unknown_relations(case, table, RELATIONS)


ZONE_RULES: tuple[Rule, ...] = (
    zones_follow_one_another,
    zone_is_cooled_one_way,
    side_shares_split_a_total,
    zone_fits_the_section,
    narrow_water_agrees_with_the_faces,
    zone_keys_have_an_effect,
    water_table_rises,
    surface_is_given_once,
    roll_relation_knows_its_rolls,
    nozzles_are_described_whole,
    valve_limits_are_in_order,
    relations_are_known,
)
"""Every rule of the zones."""

EACH_TABLE: Mapping[Rule, Callable[[RawCase], list[KeyPath]]] = {
    zone_is_cooled_one_way: _zones,
    side_shares_split_a_total: _zones,
    zone_fits_the_section: _zones,
    narrow_water_agrees_with_the_faces: _zones,
    zone_keys_have_an_effect: _zones,
    water_table_rises: _zones,
    surface_is_given_once: _surfaces,
    nozzles_are_described_whole: _zones,
    valve_limits_are_in_order: _zones,
    relations_are_known: _surfaces,
}
"""Rules of one table each, and which tables of a case those are."""
