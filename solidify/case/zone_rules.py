"""Rules of the cooling zones that join several keys; their docstrings are printed in the reference."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from solidify.case.given import Flaw, Given, Rule, plain
from solidify.case.lines import KeyPath
from solidify.case.model import COOLING_KINDS, SIDES, WHOLE_FLUX
from solidify.errors import closest
from solidify.spray import relation_names

__all__ = ["ZONE_RULES", "mould_exit"]


def mould_exit(case: Given) -> float | None:
    """Return the mould exit as the file counts distances [m]; None where it cannot be known."""
    length, level = case.get("mould", "length_mm"), case.get("mould", "level_below_top_mm")
    origin = case.get("machine", "distances_from", default="meniscus")
    if origin is None or length is None or level is None or level >= length:
        return None
    return (length - level if origin == "meniscus" else length) / 1000


def zones_follow_one_another(case: Given) -> Iterator[Flaw]:
    """Each zone ends after the one before it, the first after mould exit; each has its own name."""
    before, what = mould_exit(case), "mould exit"
    seen: dict[str, int] = {}
    for index in case.zones:
        name, end = case.get("zone", index, "name"), case.get("zone", index, "end_m")
        if name is not None and seen.setdefault(name, index) != index:
            said = f'= "{name}" is already the name of zone {seen[name] + 1}'
            yield Flaw(("zone", index, "name"), said, do="rename one of the two")
        if end is None:
            continue
        if before is not None and end <= before:
            said = f"= {plain(end)} m is not after {what} at {plain(before)} m"
            do = "put the zones in casting order; check distances_from in [machine]"
            yield Flaw(("zone", index, "end_m"), said, do=do)
        before, what = end, f"the end of zone {index + 1 if name is None else chr(34) + name + chr(34)}"


def zone_is_cooled_one_way(case: Given) -> Iterator[Flaw]:
    """A zone has exactly one way of cooling; a dry zone says water_L_per_min = 0.

    Loose and fixed water stand together; water of the narrow faces stands beside them only.
    """
    for index in case.zones:
        ways = [way for way, keys in COOLING_KINDS.items() if case.among("zone", index, keys=keys)]
        if not ways:
            do = "add one of them; water_L_per_min = 0 is a dry zone"
            yield Flaw(("zone", index), "has no cooling", "; ".join(COOLING_KINDS), do=do)
        for way in ways[1:]:
            key = case.among("zone", index, keys=COOLING_KINDS[way])[0]
            yield Flaw(
                ("zone", index, key), f"stands beside {ways[0]}", "one way of cooling a zone", do="keep one"
            )
        if case.among("zone", index, keys=SIDES):
            for key in SIDES[:2]:
                if not case.has("zone", index, key):
                    yield Flaw(("zone", index), f"{key} is missing", do=f"add {key}, 0 when that side is dry")


def zone_fits_the_section(case: Given) -> Iterator[Flaw]:
    """A round is cooled alike all round: no loose, fixed or narrow water, sprayed width or "wide" faces.

    The sprayed width of any other section is not more than its width.
    """
    shape, width = case.get("section", "shape"), case.get("section", "width_mm")
    for index in case.zones:
        sprayed = case.get("zone", index, "sprayed_width_mm")
        if shape == "round":
            if case.get("zone", index, "sprayed_faces") == "wide":
                yield Flaw(("zone", index, "sprayed_faces"), '= "wide" does not fit a round', '"all"')
            for key in case.among("zone", index, keys=(*SIDES, "sprayed_width_mm")):
                do = "give all water of the zone as water_L_per_min" if key in SIDES else "drop it"
                yield Flaw(
                    ("zone", index, key), "does not fit a round, which is cooled alike all round", do=do
                )
        elif sprayed is not None and width is not None and sprayed > width:
            said = f"= {plain(sprayed)} mm is more than width_mm = {plain(width)} mm"
            yield Flaw(("zone", index, "sprayed_width_mm"), said, f"up to {plain(width)} mm")


def narrow_water_agrees_with_the_faces(case: Given) -> Iterator[Flaw]:
    """Beside loose and fixed water, sprayed_faces is "all" with narrow water and "wide" without."""
    for index in case.zones:
        faces, narrow = case.get("zone", index, "sprayed_faces"), case.has("zone", index, SIDES[2])
        if faces == "wide" and narrow:
            do = 'drop the narrow water or write sprayed_faces = "all"'
            yield Flaw(("zone", index, SIDES[2]), 'stands beside sprayed_faces = "wide"', do=do)
        if faces == "all" and not narrow and case.among("zone", index, keys=SIDES):
            do = f"add {SIDES[2]} or drop sprayed_faces"
            yield Flaw(("zone", index, "sprayed_faces"), '= "all" but the narrow faces have no water', do=do)


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
    for index in case.zones:
        whole = case.has("zone", index, WHOLE_FLUX)
        if whole or case.has("zone", index, "heat_transfer_W_per_m2K"):
            beside = WHOLE_FLUX if whole else "heat_transfer_W_per_m2K"
            for key in case.among("zone", index, keys=SPRAY_KEYS + (SURFACE_KEYS if whole else ())):
                yield Flaw(("zone", index, key), f"has no effect beside {beside}", do="drop it")


def water_table_rises(case: Given) -> Iterator[Flaw]:
    """The speeds of water_at_speed rise from row to row."""
    for index in case.zones:
        rows = case.get("zone", index, "water_at_speed") or ()
        for row, (before, after) in enumerate(pairwise(rows)):
            if after[0] <= before[0]:
                said = f"has {plain(after[0])} m/min after {plain(before[0])} m/min"
                path = ("zone", index, "water_at_speed", row + 1)
                yield Flaw(path, said, "rising speeds", do="sort the rows by speed, each speed once")


def _surfaces(case: Given) -> list[KeyPath]:
    return [("cooling",), *(("zone", index) for index in case.zones)]


def roll_contact_is_given_once(case: Given) -> Iterator[Flaw]:
    """Roll contact is a coefficient or a share, in [cooling] and in each zone."""
    for path in _surfaces(case):
        if len(case.among(*path, keys=("roll_contact_W_per_m2K", "roll_contact_share"))) == 2:
            said = "stands beside roll_contact_W_per_m2K"
            yield Flaw((*path, "roll_contact_share"), said, do="keep one of the two")


def spray_relation_is_known(case: Given) -> Iterator[Flaw]:
    """Every spray_relation is one that ships."""
    names = relation_names()
    for path in _surfaces(case):
        name = case.get(*path, "spray_relation")
        if name is not None and name not in names:
            said = f'= "{name}" is not a known relation'
            yield Flaw((*path, "spray_relation"), said, ", ".join(names), closest(name, names))


ZONE_RULES: tuple[Rule, ...] = (
    zones_follow_one_another,
    zone_is_cooled_one_way,
    zone_fits_the_section,
    narrow_water_agrees_with_the_faces,
    zone_keys_have_an_effect,
    water_table_rises,
    roll_contact_is_given_once,
    spray_relation_is_known,
)
"""Every rule of the zones."""
