"""The JSON Schema of the case file, and what it says of a key."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from typing import Any

from pydantic.json_schema import GenerateJsonSchema

from solidify.case.file import CaseFile
from solidify.case.limit_rules import TROUGH, ductility_criteria, printed_unit, shipped_limits
from solidify.case.model import RELATIONS
from solidify.case.paths import KeyPath
from solidify.heat.mould import mean_flux_relations

__all__ = ["Schema", "case_schema", "key_range", "schema_at"]

Schema = Mapping[str, Any]


def schema_at(schema: Schema, path: KeyPath) -> Schema:
    """Return the part of a JSON Schema that describes one key.

    Parameters
    ----------
    schema : mapping
        Schema of the whole case.
    path : tuple
        Key path.

    Returns
    -------
    mapping
        Empty where the schema knows no such key.
    """
    at: Schema = schema
    for key in path:
        if isinstance(key, int):
            rows = at.get("prefixItems")
            at = rows[key] if rows and key < len(rows) else at.get("items") or {}
        else:
            at = at.get("properties", {}).get(key, {})
        if "$ref" in at:
            at = {**schema["$defs"][at["$ref"].rsplit("/", 1)[1]], **at}
    return at


def key_range(at: Schema) -> str:
    """Return the accepted values of one key in words.

    Parameters
    ----------
    at : mapping
        What the schema says of the key, see `schema_at`.

    Returns
    -------
    str
        A range with its unit, or a list; empty where any value of its kind will do.

    Examples
    --------
    >>> key_range({"type": "number", "minimum": 0.05, "maximum": 12, "unit": "m/min"})
    '0.05 to 12 m/min'
    """
    if "enum" in at:
        return ", ".join(json.dumps(word) for word in at["enum"])
    unit = at.get("unit", "1")
    while at.get("type") == "array" and isinstance(at.get("items"), Mapping):
        at = at["items"]
    if "prefixItems" in at:
        return " and ".join(dict.fromkeys(key_range(column) for column in at["prefixItems"]))
    if "exclusiveMinimum" in at:
        text = f"above {at['exclusiveMinimum']:g}"
    elif "minimum" in at:
        text = f"{at['minimum']:g} to {at['maximum']:g}"
    else:
        return ""
    return text if unit == "1" else f"{text} {unit}"


class _Schema(GenerateJsonSchema):
    """TOML has no null: an optional key is one that may be absent."""

    def nullable_schema(self, schema: Any) -> Any:
        return self.generate_inner(schema["schema"])

    def default_schema(self, schema: Any) -> Any:
        made = super().default_schema(schema)
        if made.get("default", 0) is None:
            del made["default"]
        return made

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False


@cache
def case_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of the case file.

    Returns
    -------
    dict
    """
    schema = CaseFile.model_json_schema(schema_generator=_Schema)
    for table in ("Cooling", "Zone"):
        for key, names in RELATIONS.items():
            schema["$defs"][table]["properties"][key]["enum"] = list(names)
    schema["$defs"]["Mould"]["properties"]["handbook_relation"]["enum"] = list(mean_flux_relations())
    schema["properties"]["limits"] |= {"additionalProperties": False, "properties": _limits()}
    return {"$schema": GenerateJsonSchema.schema_dialect, **schema, "title": "solidify case file"}


def _limits() -> dict[str, Any]:
    """Return what stands for each key of [limits]."""
    number = {"type": "number"}
    limits = {}
    for name, limit in sorted(shipped_limits().items()):
        low, high = limit["bounds"]
        bounded = {**number, "minimum": low, "maximum": high}
        pair = {"type": "array", "items": bounded, "minItems": 2, "maxItems": 2}
        about = {
            "description": limit["label"],
            "unit": printed_unit(limit["unit"]),
            "otherwise": "as shipped",
        }
        limits[name] = (pair if limit["sense"] == "within" else bounded) | about
    first, *_ = ductility_criteria()
    limits["ductility_criterion"] = {
        "type": "string",
        "enum": list(ductility_criteria()),
        "description": "How the ductility trough at the straightener is told, by name",
        "otherwise": first,
    }
    edge = {**number, "minimum": TROUGH[0], "maximum": TROUGH[1]}
    limits["ductility_trough"] = {
        "type": "array",
        "items": edge,
        "minItems": 2,
        "maxItems": 2,
        "description": "Your own ductility trough, in place of a criterion: the surface is to be above or wholly below",
        "unit": "°C",
        "otherwise": "as the criterion",
    }
    return limits
