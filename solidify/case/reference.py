"""The reference page and the JSON Schema of the case file, written from the models and rules themselves."""

from __future__ import annotations

import inspect
import json
import re
from collections.abc import Iterator, Mapping
from typing import Any

from solidify.case.questions import QUESTIONS
from solidify.case.reading import parse_case, starter_case
from solidify.case.rules import RULES
from solidify.case.schema import case_schema, key_range
from solidify.errors import InputError

__all__ = ["reference_text", "schema_text"]

_HEAD = """\
# The case file

<!-- Written by `python -m solidify.case` from the definitions that check the file. Do not edit by hand. -->

A case describes one strand: caster, steel and practice. It is a TOML text in UTF-8, in plant units: the unit
of every number stands in the name of its key, and numbers are written bare, `speed_m_per_min = 0.75`.
`solidify new FILE.toml` writes a commented case to start from; `solidify check FILE.toml` lists every problem
of a file at once and shows what would be used.

- Unknown keys are errors; the nearest known key is named.
- A key that is not given takes the default below or, where that says "none", is not part of the run. Every
  value used, defaults included, is kept in the result.
- `nan` and `inf` are refused everywhere but in `radius_after_m`, where `inf` is a straight strand.
- Distances run along the strand in metres, from the meniscus unless `distances_from = "mould top"`.
- `inner` and `outer` stand for `loose` and `fixed` in every key that tells sides apart: the inner side of the arc is
  the loose one.
- In Python and in study files a key goes by its path: `casting.speed_m_per_min`,
  `mould.heat_flux_law.a_kW_per_m2`, `zone."foot rolls".water_L_per_min`.

An editor that knows JSON Schema completes and checks the keys while you type: the schema is
`solidify/data/case.schema.json`; `#:schema PATH/case.schema.json` as the first line of a case points to it.
"""

_MISTAKES = {
    "\nspeed_m_per_min = 0.75": "\nspeed_m_per_min = 75",
    "lubricant =": "lubrikant =",
    "end_m = 2.60": "end_m = 0.26",
}
"""Right words of the starter case, and wrong ones."""

_COLUMNS = "| key | unit | allowed | default | meaning |\n|---|---|---|---|---|"


def schema_text() -> str:
    """Return the JSON Schema of the case file as text.

    Returns
    -------
    str
    """
    return json.dumps(case_schema(), indent=1, ensure_ascii=False) + "\n"


def reference_text() -> str:
    """Return the reference page of the case file in Markdown.

    Returns
    -------
    str
    """
    return "\n\n".join([_HEAD.rstrip(), *_tables(), _rules(), _questions(), _messages(), _example()]) + "\n"


def _tables() -> Iterator[str]:
    schema = case_schema()
    shared = _resolved(schema["properties"]["cooling"])["properties"]
    single = [(key, at) for key, at in schema["properties"].items() if at.get("type") == "string"]
    yield "## Before the first table\n\n" + _rows(dict(single), schema["required"])
    for name, at in schema["properties"].items():
        if at.get("type") == "string":
            continue
        below = _resolved(at.get("items", at))
        heading = f"[[{name}]]" if "items" in at else f"[{name}]"
        text = below.get("description", "")
        if name == "limits":
            text += ". A limit has a label, a definition, a source and product-wise defaults of its own."
        keys = {k: v for k, v in below["properties"].items() if name != "zone" or k not in shared}
        yield f"## {heading}\n\n{_paragraphs(text)}\n\n{_rows(keys, below.get('required', []))}"
        for key, inner in keys.items():
            if "$ref" in inner:
                deep = _resolved(inner)
                rows = _rows(deep["properties"], deep["required"])
                yield f"### {key}, in [{name}]\n\n{_paragraphs(deep['description'])}\n\n{rows}"


def _resolved(at: Mapping[str, Any]) -> dict[str, Any]:
    below = case_schema()["$defs"][at["$ref"].rsplit("/", 1)[1]] if "$ref" in at else {}
    return {**at, **below}


def _rows(properties: Mapping[str, Any], required: list[str]) -> str:
    rows = [_COLUMNS]
    for key, at in properties.items():
        unit = at.get("unit", "")
        default = "required" if key in required else _default(at)
        cells = (f"`{key}`", "–" if unit == "1" else unit, _allowed(at), default, at["description"])
        rows.append("| " + " | ".join(cells) + " |")
    return "\n".join(rows)


def _allowed(at: Mapping[str, Any]) -> str:
    span = key_range({key: value for key, value in at.items() if key != "unit"}).replace('"', "`")
    if "$ref" in at:
        return "a table"
    if at["type"] == "array":
        if at.get("maxItems") == 2:
            return f"[low, high] within {span}"
        return f"rows of {span}" if "prefixItems" in at["items"] else f"list of {span}"
    return f"{span}, or rows of °C and value" if "array" in at["type"] else span or "text"


def _default(at: Mapping[str, Any]) -> str:
    if "default" not in at:
        return at.get("otherwise", "none").replace('"', "`")
    value = at["default"]
    return f"`{value:g}`" if isinstance(value, float) else f"`{json.dumps(value)}`"


def _paragraphs(text: str) -> str:
    return "\n".join(line.strip() for line in text.splitlines())


def _rules() -> str:
    lines = ["## Rules that join several keys", ""]
    for rule in RULES:
        said = " ".join((inspect.getdoc(rule) or "").split())
        lines.append("- " + re.sub(r"\b[a-z]+(?:_\w+)+(?: = \S+\b)?", r"`\g<0>`", said))
    return "\n".join(lines)


def _questions() -> str:
    head = (
        "## What is asked\n\nNumbers that are in range and may be right, but commonly are not, are no error: each is "
        "asked about, by `solidify check` and on everything a run writes."
    )
    lines = [f"- {' '.join((inspect.getdoc(ask) or '').split())}" for ask in QUESTIONS]
    return head + "\n\n" + "\n".join(lines)


def _messages() -> str:
    text = starter_case()
    for right, wrong in _MISTAKES.items():
        text = text.replace(right, wrong)
    try:
        parse_case(text, "mine.toml")
    except InputError as error:
        head = "## What a problem looks like\n\nThree mistakes in the case below, told at once:"
        return f"{head}\n\n```text\n{error}\n```"
    raise AssertionError("the mistakes were not seen")


def _example() -> str:
    return f"## A complete case\n\n```toml\n{starter_case()}```"
