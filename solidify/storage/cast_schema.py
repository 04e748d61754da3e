"""The layout of a cast file: every dataset with its dimensions, unit and meaning."""

from __future__ import annotations

from solidify.storage.schema import TEXT, Columns

__all__ = ["CAST_LAYOUT", "CAST_TYPE", "FORMAT"]

CAST_TYPE = "solidify cast"
"""Root attribute that tells a cast from other HDF5 files."""

FORMAT = 1
"""Number of the layout; a file with a higher one is refused."""

CAST_LAYOUT: dict[str, Columns] = {
    "/": {
        "tick": (("tick",), "s", "clock at which the strand is looked at"),
        "distance": (("distance",), "m", "distance from the meniscus"),
        "speed": (("tick",), "m s-1", "casting speed"),
        "cast_length": (("tick",), "m", "length cast"),
        "surface_temperature": (("tick", "distance"), "degC", "surface temperature, loose side"),
        "centre_solid_fraction": (("tick", "distance"), "1", "solid fraction at the centre, on arrival"),
        "core_end": (("tick",), "m", "end of the liquid core"),
        "core_end_07": (("tick",), "m", "end of the core of less than 70 % solid"),
        "water": (("tick", "zone"), "kg s-1", "all water of a zone on one strand"),
        "zone": (("zone",), TEXT, "zone with water"),
    },
    "/cast": {
        "name": ((), TEXT, "name of the cast file"),
        "toml": ((), TEXT, "the cast file as given"),
        "case": ((), TEXT, "every value of the case used, defaults included"),
        "properties": ((), TEXT, "property file of the steel as given; empty without one"),
    },
    "/slice": {
        "label": (("slice",), "m", "length cast before the slice"),
        "born": (("slice",), "s", "clock at its birth"),
        "place": (("slice",), "m", "where it was born, from the meniscus"),
        "superheat": (("slice",), "K", "superheat in the tundish at its birth"),
        "specific_water": (("slice",), "L kg-1", "spray water per mass"),
        "shell_at_mould_exit": (("slice",), "m", "mean shell at solid fraction 0.7 at mould exit"),
        "solid_at": (("slice",), "s", "clock at which the centre is solid"),
        "balance_error": (("slice",), "1", "largest of the three energy errors"),
        "limit": (("limit",), TEXT, "name of a limit"),
        "hardness": (("limit",), TEXT, "hard or soft"),
        "unit": (("limit",), TEXT, "unit of value and margin"),
        "value": (("slice", "limit"), "by row", "what was found, in the unit of the limit"),
        "margin": (("slice", "limit"), "by row", "margin to the limit, in its unit"),
    },
    "/piece": {
        "first": (("piece",), "m", "cast metres at its begin"),
        "last": (("piece",), "m", "cast metres at its end"),
        "kind": (("piece",), TEXT, "piece or crop"),
        "cut": (("piece",), "s", "clock at which its end passes the cut-off"),
        "suspect": (("piece",), TEXT, "why it is suspect; empty where it is not"),
    },
}
"""Group to its datasets: dimensions, unit and meaning."""
