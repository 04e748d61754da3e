"""The layout of a result file: every dataset with its dimensions, unit and meaning.

Profiles lie flat in the root, because a reader that opens a group alone does not see the coordinates of the root.
"""

from __future__ import annotations

from pathlib import Path

from solidify.files import write_whole
from solidify.strand.result import SUMMARY

__all__ = [
    "AS_FINDING",
    "ATTRIBUTES",
    "BY_ROW",
    "Columns",
    "FILE_TYPE",
    "FLAG",
    "FORMAT",
    "LAYOUT",
    "TEXT",
    "layout_text",
]

FILE_TYPE = "solidify result"
"""Root attribute that tells a result from other HDF5 files."""

FORMAT = 1
"""Number of the layout; a file with a higher one is refused."""

ATTRIBUTES = ("title", "created_by", "created_at", "shape_treatment", "Conventions")
"""Words that every file carries at its root."""

TEXT = "text"
"""Stands in `LAYOUT` in place of a unit: the dataset holds words."""

BY_ROW = "by row"
"""Stands in place of a unit: each row names its own."""

AS_FINDING = "as the finding"
"""Stands in place of a unit: that of the finding which the row names."""

FLAG = "flag"
"""Stands in place of a unit: 1 for yes, 0 for no."""

Columns = dict[str, tuple[tuple[str, ...], str, str]]

_ROOT: Columns = {
    "distance": (("distance",), "m", "distance from the meniscus"),
    "side": (("side",), TEXT, "side of the strand: both alike, or loose and fixed"),
    "solid_fraction": (("solid_fraction",), "1", "solid fraction that bounds the shell"),
    "section_distance": (("section_distance",), "m", "distance from the meniscus of a kept section"),
    "depth": (("depth",), "m", "depth from the surface, of the loose side if the sides differ"),
    "time": (("distance",), "s", "time since the meniscus"),
    "surface_temperature": (("side", "distance"), "degC", "surface temperature, middle of the face"),
    "shell_thickness": (("side", "solid_fraction", "distance"), "m", "shell thickness"),
    "equivalent_shell": (("side", "distance"), "m", "integral of the solid fraction over the depth"),
    "centre_temperature": (("distance",), "degC", "centre temperature"),
    "centre_solid_fraction": (("distance",), "1", "solid fraction at the centre"),
    "heat_flux": (("side", "distance"), "W m-2", "heat flux out of the surface"),
    "heat_transfer_coefficient": (("side", "distance"), "W m-2 K-1", "heat-transfer coefficient"),
    "section_temperature": (("section_distance", "depth"), "degC", "temperature over the section"),
    "section_solid_fraction": (("section_distance", "depth"), "1", "solid fraction over the section"),
}
_CASE: Columns = {
    "name": ((), TEXT, "name of the case file"),
    "toml": ((), TEXT, "the case as given"),
    "effective": ((), TEXT, "every value used, defaults included"),
    "properties": ((), TEXT, "property file of the steel as given; empty without one"),
}
_STRAND: Columns = {
    "thickness": ((), "m", "thickness, hot, at mould exit"),
    "width": ((), "m", "width, hot, at mould exit"),
    "half_thickness": ((), "m", "half thickness or radius, hot, at mould exit"),
    "tundish_temperature": ((), "degC", "steel temperature in the tundish"),
    "superheat": ((), "K", "superheat in the tundish"),
    "pouring_temperature": ((), "degC", "steel temperature at the meniscus"),
    "headline": ((), "1", "solid fraction of the headline shell"),
    "weight_tube": ((), "1", "weight of a rectangle's slice: exponent at birth"),
    "weight_power": ((), "1", "weight of a rectangle's slice: exponent once it has turned"),
    "weight_begins": (
        (),
        "1",
        "weight of a rectangle's slice: equivalent solid fraction at which it begins to turn",
    ),
    "weight_ends": (
        (),
        "1",
        "weight of a rectangle's slice: equivalent solid fraction at which it has turned",
    ),
}
_MOULD: Columns = {
    "mean_flux": ((), "W m-2", "mean heat flux over the dwell, after the factor"),
    "exit_flux": ((), "W m-2", "heat flux at mould exit"),
    "origin": ((), TEXT, "where the flux comes from"),
    "law": ((), TEXT, "the flux law in words"),
    "dwell": ((), "s", "time in the mould"),
    "working_length": ((), "m", "meniscus to mould exit"),
    "expected_mean_flux": ((), "W m-2", "mean heat flux that the plant calls normal at this speed"),
    "water_rise": ((), "K", "rise of the mould water that this flux means"),
    "water_velocity": ((), "m s-1", "velocity of the mould water in its gap or slots"),
    "copper_hot_face": ((), "degC", "estimate of the hot face of the copper"),
    "face": (("face",), TEXT, "face that the panel shows apart"),
    "face_flux": (("face",), "W m-2", "mean heat flux of the face"),
    "negative_strip_time": ((), "s", "negative strip time of a cycle of the oscillation"),
    "negative_strip_ratio": ((), "1", "mean speed of the mould over the casting speed, less 1"),
    "mould_speed_ratio": ((), "1", "peak speed of the mould over the casting speed"),
    "mark_pitch": ((), "m", "distance from oscillation mark to oscillation mark"),
    "taper_distance": (("taper_distance",), "m", "distance from the meniscus in the mould"),
    "taper": (
        ("taper_distance",),
        "m-1",
        "taper of the width, both sides together, that follows the free shrinkage",
    ),
    "taper_gap": (
        ("taper_distance",),
        "m",
        "gap on each side under the straight taper, or under mean_taper when none is given",
    ),
    "mean_taper": ((), "m-1", "straight taper that meets the free shrinkage at mould exit"),
    "single_taper": ((), "m-1", "straight taper of the mould"),
}
_ZONE: Columns = {
    "name": (("name",), TEXT, "stretch of the strand"),
    "kind": (("name",), TEXT, "mould, zone or open strand"),
    "start": (("name",), "m", "start, distance from the meniscus"),
    "end": (("name",), "m", "end, distance from the meniscus"),
    "water": (("name",), "kg s-1", "all water of the zone on one strand"),
    "water_flux": (("name", "side"), "kg m-2 s-1", "water on the sprayed area, zone mean"),
    "mean_flux": (("name", "side"), "W m-2", "mean heat flux"),
    "heat_removed": (("name", "side"), "J m-2", "heat removed from the slice"),
    "surface_in": (("name", "side"), "degC", "surface temperature where the slice enters"),
    "surface_out": (("name", "side"), "degC", "surface temperature where the slice leaves"),
}
_BALANCE: Columns = {
    "zone": (("zone",), TEXT, "stretch of the strand"),
    "mechanism": (("mechanism",), TEXT, "what takes the heat"),
    "heat": (("side", "zone", "mechanism"), "J m-2", "heat removed per area of slice surface"),
    "share": (("side", "zone", "mechanism"), "1", "share of all heat removed"),
    "handed": (
        ("side", "zone"),
        "J m-2",
        "heat lost through what the slice of a rectangle gave up when its weight turned",
    ),
    "flux_error": ((), "1", "flux sum against marched enthalpy lost, relative"),
    "table_error": ((), "1", "marched enthalpy against the table, over latent heat"),
    "recount_error": ((), "1", "heat recounted from final temperatures against the flux sum, relative"),
    "steps": ((), "1", "steps of the march"),
    "rejected": ((), "1", "steps taken again"),
    "iterations": ((), "1", "iterations of the march"),
    "nodes": ((), "1", "nodes over the depth"),
}
_WARNING: Columns = {
    "number": (("number",), "1", "number of the warning"),
    "text": (("number",), TEXT, "what is to be known"),
    "where": (("number",), TEXT, "where it first applied"),
    "count": (("number",), "1", "how often it applied"),
}
_STEEL: Columns = {
    "temperature": (("temperature",), "degC", "temperature"),
    "enthalpy": (("temperature",), "J kg-1", "specific enthalpy"),
    "conductivity": (("temperature",), "W m-1 K-1", "thermal conductivity, stirring of the pool included"),
    "solid_fraction": (("temperature",), "1", "solid fraction"),
    "density": (("temperature",), "kg m-3", "density"),
    "shrinkage": (("temperature",), "1", "free linear thermal strain against the solidus"),
    "kink": (("kink",), "degC", "temperature where a slope breaks"),
    "element": (("element",), TEXT, "element of the composition"),
    "composition": (("element",), "percent", "mass share of the element"),
    "event": (("event",), TEXT, "event on the way from liquid to cold"),
    "event_temperature": (("event",), "degC", "temperature of the event"),
    "liquidus": ((), "degC", "liquidus"),
    "solidus": ((), "degC", "solidus"),
    "march_density": ((), "kg m-3", "the one density that marches"),
    "latent_heat": ((), "J kg-1", "latent heat of solidification"),
    "carbon_equivalent": ((), "percent", "carbon equivalent"),
    "ferrite_potential": ((), "1", "ferrite potential"),
    "cooling_rate": ((), "K s-1", "nominal cooling rate through the freezing range"),
    "arm_spacing": ((), "m", "secondary dendrite arm spacing"),
    "steel_class": ((), TEXT, "steel class"),
    "path_model": ((), TEXT, "how the solid fraction was found"),
    "phase": (("phase",), TEXT, "phase"),
    "phase_share": (("phase", "temperature"), "1", "mass share of the phase"),
    "quantity": (("quantity",), TEXT, "quantity that rests on a source"),
    "source": (("quantity",), TEXT, "key of the source"),
    "evidence": (("quantity",), TEXT, "how well the quantity is known"),
    "reference": (("quantity",), TEXT, "full reference of the source"),
    **_WARNING,
}
_COOLING: Columns = {
    "source": (("source",), TEXT, "key of a source of the cooling relations"),
    "reference": (("source",), TEXT, "full reference of the source"),
}
_SUMMARY: Columns = {name: ((), units, meaning) for name, (units, meaning) in SUMMARY.items()}
_SUMMARY["shell_at_mould_exit"] = (("solid_fraction",), *SUMMARY["shell_at_mould_exit"])
_SUMMARY["breakout_risk"] = ((), TEXT, "breakout risk in words, from a computed mid-face slice")
_FINDING: Columns = {
    "name": (("name",), TEXT, "limit, by name"),
    "label": (("name",), TEXT, "limit, in words"),
    "value": (("name",), BY_ROW, "value found"),
    "low": (("name",), BY_ROW, "lower end of the value's band"),
    "high": (("name",), BY_ROW, "upper end of the value's band"),
    "unit": (("name",), TEXT, "unit of value, band, limit and margin"),
    "bound": (("bound",), TEXT, "side of a limit"),
    "limit": (
        ("name", "bound"),
        BY_ROW,
        "limit: the least and the largest value that keep it; of a trough its edges",
    ),
    "sense": (("name",), TEXT, "how the value is to stand to the limit; outside is that of a trough"),
    "margin": (("name",), BY_ROW, "room to the limit; negative is beyond it"),
    "close": (("name",), BY_ROW, "room below which a limit is close while no band is known"),
    "verdict": (("name",), TEXT, "verdict"),
    "hardness": (("name",), TEXT, "hard or soft"),
    "where": (("name",), TEXT, "place along the strand"),
    "evidence": (("name",), TEXT, "how well the limit is known"),
    "source": (("name",), TEXT, "source of the limit"),
    "reason": (("name",), TEXT, "why it is not judged"),
    "note": (("name",), TEXT, "which case of the limit applies, or what the value rests on"),
    "room": (("name",), TEXT, "the margin in words"),
    "overridden": (("name",), FLAG, "whether the case sets this limit"),
}
_EFFECT: Columns = {
    "row": (("row",), "1", "number of the effect"),
    "finding": (("row",), TEXT, "limit, by name"),
    "input": (("row",), TEXT, "input, section treatment or grid, whose error moves the value found"),
    "error": (("row",), BY_ROW, "one standard deviation of the input"),
    "unit": (("row",), TEXT, "unit of the error"),
    "change": (("row",), AS_FINDING, "what one standard deviation more adds to the value"),
    "share": (("row",), "1", "share of the variance of the value"),
    "part": (("row",), TEXT, "input, numerical (grid and time step) or model (section treatment)"),
}
_BREAKOUT: Columns = {
    "name": (("name",), TEXT, "finding that was looked at"),
    "weight": (("name",), TEXT, "weight of what was found"),
    "text": (("name",), TEXT, "what was found, in words"),
    "moves": (("name",), TEXT, "what its inputs do to the shell at mould exit, in words"),
}
LAYOUT: dict[str, Columns] = {
    "/": _ROOT,
    "/case": _CASE,
    "/strand": _STRAND,
    "/mould": _MOULD,
    "/zone": _ZONE,
    "/steel": _STEEL,
    "/cooling": _COOLING,
    "/summary": _SUMMARY,
    "/finding": _FINDING,
    "/effect": _EFFECT,
    "/breakout": _BREAKOUT,
    "/balance": _BALANCE,
    "/warning": _WARNING,
}
"""Group -> dataset -> (dimensions, UDUNITS unit or `TEXT`, long name): every dataset of the file."""


_HEAD = """\
# The result file

<!-- Written by `python -m solidify.storage.schema` from the table that writes, reads and checks the file. -->

A result is one HDF5 file. Any reader of HDF5 or netCDF-4 opens it with labelled dimensions; nothing in it is
pickled. Profiles lie flat in the root, so that one line shows them all:

```python
import xarray

profiles = xarray.open_dataset("bloom.h5", engine="h5netcdf")
shell = profiles.shell_thickness.sel(side="both", solid_fraction=0.7)  # m, over distance [m]
zones = xarray.open_dataset("bloom.h5", group="zone", engine="h5netcdf")
```

`solidify.load("bloom.h5")` gives back the result and `solidify.load_judgement("bloom.h5")` its findings.

- Every number has a `units` attribute in the spelling of UDUNITS; half powers, and columns whose rows differ in
  unit, have `units_note` instead. Every dataset has a `long_name`.
- Every figure and profile is double precision. What does not exist is NaN.
- `side` is `both`, or `loose` and `fixed` where the two are cooled differently.
- The root carries `file_type`, `format`, `title`, `created_by`, `created_at`, `shape_treatment`, `Conventions`; a
  file of a newer format is refused. `/steel` carries `liquidus`, `solidus` [degC] and `sources` as attributes too.
- `/case/toml` is the case as given; run it again with that text. What stood in a property file of the steel is
  `/case/properties`, so that a result needs no other file: `solidify.solve(solidify.load("bloom.h5").case)` marches
  it again.
"""


def layout_text() -> str:
    """Return the reference page of the result file.

    Returns
    -------
    str
        Markdown.
    """
    parts = [_HEAD]
    for group, columns in LAYOUT.items():
        parts += [f"## `{group}`\n", "| dataset | dimensions | unit | meaning |\n|---|---|---|---|"]
        for name, (dims, units, long_name) in columns.items():
            words = {TEXT: "words", FLAG: "1 or 0", BY_ROW: "as `unit` says", AS_FINDING: AS_FINDING}
            shown = words.get(units, f"`{units}`")
            parts.append(f"| `{name}` | {', '.join(dims) or '–'} | {shown} | {long_name} |")
        parts.append("")
    return "\n".join(parts)


if __name__ == "__main__":
    page = Path(__file__).parents[2] / "docs" / "result-file.md"
    write_whole(page, layout_text())
    print(page)
