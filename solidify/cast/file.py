"""A cast that was run, laid out for its file."""

from __future__ import annotations

from typing import Any

import numpy as np

from solidify.cast.pieces import pieces
from solidify.cast.result import CastResult
from solidify.storage.cast_file import packed_cast

__all__ = ["cast_bytes"]


def cast_bytes(result: CastResult) -> bytes:
    """Return the bytes of the HDF5 file of a cast; fields in single precision.

    Parameters
    ----------
    result : CastResult
        A cast that was run.

    Returns
    -------
    bytes
    """
    cast, tick = result.cast, result.tick
    water = result.layout.water
    rows = sorted(result.limits.values(), key=lambda row: row.row)
    own = [row.row for row in rows]
    cut = pieces(result)
    columns = result.columns
    values: dict[str, dict[str, Any]] = {
        "/": {
            "tick": tick,
            "distance": result.distance,
            "speed": cast.clock.speed_at(tick),
            "cast_length": cast.clock.length(tick),
            "surface_temperature": result.field().astype(np.float32),
            "centre_solid_fraction": result.field("centre_solid_fraction").astype(np.float32),
            "core_end": result.core_end(),
            "core_end_07": result.core_end(0.7),
            "water": np.array([w.at(tick) for w in water.values()]).reshape(len(water), len(tick)).T,
            "zone": list(water),
        },
        "/cast": {
            "name": cast.name,
            "toml": cast.text,
            "case": cast.case.effective_toml(),
            "properties": cast.case.property_text,
        },
        "/slice": {
            "label": result.births.label,
            "born": result.births.time,
            "place": result.births.place,
            **{
                name: columns[name]
                for name in (
                    "superheat",
                    "specific_water",
                    "shell_at_mould_exit",
                    "solid_at",
                    "balance_error",
                )
            },
            "limit": [row.name for row in rows],
            "hardness": [row.finding.hardness for row in rows],
            "unit": [row.finding.unit for row in rows],
            "value": columns["value"][:, own],
            "margin": columns["margin"][:, own],
        },
        "/piece": {
            "first": np.array([p.first for p in cut]),
            "last": np.array([p.last for p in cut]),
            "kind": [p.kind for p in cut],
            "cut": np.array([p.cut for p in cut]),
            "suspect": ["; ".join(f"{s.label} {s.value}" for s, _, _ in p.suspect) for p in cut],
        },
    }
    return packed_cast(cast.title, values)
