"""The page of all limits that ship, written from their data: ``python -m solidify.report.limits`` in a checkout."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from solidify.assessment.limits import Limit, Setting, limit, names
from solidify.files import write_whole
from solidify.sources import EVIDENCE, load_data, source

__all__ = ["limits_text"]

_HEAD = """\
# The limits

<!-- Written by `python -m solidify.report.limits` from solidify/data/limits/default.toml. Do not edit by hand. -->

Every strand is judged by the limits below. A **hard** limit bounds speed ceilings and tuning; a **soft** one is judged
and shown. Each can be replaced by name under `[limits]` in the case file; the page of a strand then says that the limit
is your own.

- The product goes by its use, `product` under `[section]`; without it by shape and size: a rectangle above 220 mm (side
  of the square of equal area) is a bloom, else a billet; a slab below 100 mm is thin.
- What goes by the steel goes by one number, the peritectic carbon equivalent
  C_p = {equivalent} (mass %),
  which the carbon factor of the mould flux uses too. Within {ramp:g} % of C_p on either side of an edge a limit goes
  over in a straight line.
- "Close" is the room below which a met limit is called close while no uncertainty is known. It also ranks the limits:
  the one with the least room in close widths is named first, however badly its value is known.
- Evidence: {grades}.

Most limits are common practice without a source that could be opened: replace them by those of your own plant. How
the three checks of strength work is told in [strength.md](strength.md), the ductility trough in
[ductility.md](ductility.md).
"""

_TYPICAL = {
    "slab": Setting("slab", 220.0, frozenset({"medium carbon"}), 0.25, "powder"),
    "bloom": Setting("bloom", 270.0, frozenset({"medium carbon"}), 0.25, "powder"),
    "billet": Setting("billet", 150.0, frozenset({"medium carbon"}), 0.25, "oil"),
    "round": Setting("round", 200.0, frozenset({"medium carbon"}), 0.25, "powder"),
}
"""A usual strand of each product for the summary."""


def limits_text() -> str:
    """Return the page of all limits that ship.

    Returns
    -------
    str
        Markdown.
    """
    data = load_data("limits", "default.toml")
    grades = "; ".join(f"*{name}*, {words}" for name, words in EVIDENCE.items() if name != "user")
    slopes = load_data("steel", "composition.toml")["ferrite_potential"]["slopes"]
    terms = [f"{'+' if slope > 0 else '-'} {abs(slope):g} {name}" for name, slope in slopes.items()]
    equivalent = " ".join(terms).removeprefix("+ 1 ")
    ramp = data["ramp"]["cp_percent"]
    parts = [_HEAD.format(ramp=ramp, equivalent=equivalent, grades=grades), *_summary()]
    parts += ["\n## Every limit with its rows\n", "The first row that fits counts.\n"]
    used = []
    for name in names():
        table = data["limit"][name]
        parts += _limit(name, table)
        entries = (table, *table["row"])
        used += [entry[key] for entry in entries for key in ("source", "factor_source") if key in entry]
    parts += ["\n## Classes of steel beside C_p\n"]
    parts += [f"- *{name}*: {rule['meaning']} ({_known(rule)})" for name, rule in data["class"].items()]
    parts += ["\n## Sources\n"]
    for key in dict.fromkeys(used):
        note = f". {source(key).note[:1].upper()}{source(key).note[1:]}" if source(key).note else ""
        parts.append(f"- `{key}`: {source(key).reference}{note}")
    return "\n".join(parts) + "\n"


def _summary() -> Iterator[str]:
    words = ", ".join(
        f"{product} {setting.size_mm:g} mm on {setting.lubricant}" for product, setting in _TYPICAL.items()
    )
    yield f"## What is checked, by product\n\nFor C-Mn steel of C_p 0.25 %: {words}. A dash is not judged.\n"
    yield f"| check | {' | '.join(_TYPICAL)} | evidence | the first to go with |"
    yield "|---|" + "---|" * (len(_TYPICAL) + 2)
    for name in names():
        rules = [limit(name, setting) for setting in _TYPICAL.values()]
        label = f"**{rules[0].label}**" if rules[0].hardness == "hard" else rules[0].label
        known = ", ".join(dict.fromkeys(EVIDENCE[rule.evidence] for rule in rules if not rule.reason))
        binds = load_data("limits", "default.toml")["limit"][name]["binds"]
        yield f"| {label} | {' | '.join(map(_bound, rules))} | {known} | {binds} |"
    yield "\nHard limits stand in bold."


def _bound(rule: Limit) -> str:
    if rule.reason:
        return "–"
    value: Any = (
        (rule.lower, rule.upper)
        if rule.sense == "within"
        else (rule.lower if rule.sense == "at least" else rule.upper)
    )
    return _value(value, rule.sense, rule.unit, rule.cutoff_percent)


def _value(value: Any, sense: str, unit: str, cutoff_percent: float = 0.0) -> str:
    """Return a limit for print, e.g. "≥ 13 mm"."""
    words = {"degC": " °C", "1": "", "% strain": " %"}.get(unit, f" {unit}")
    if sense == "within":
        low, high = value
        return f"±{high:g}{words}" if low == -high else f"{low:g} to {high:g}{words}"
    share = f" and {cutoff_percent:g} % of the distance" if cutoff_percent else ""
    return f"{'≥' if sense == 'at least' else '≤'} {value:g}{words}{share}"


def _known(entry: Mapping[str, Any], kind: str = "") -> str:
    """Return grade and source of an entry for print."""
    evidence, key = entry[f"{kind}evidence"], entry[f"{kind}source"]
    return EVIDENCE[evidence] if evidence == "practice" else f"{EVIDENCE[evidence]}, `{key}`"


def _limit(name: str, table: Mapping[str, Any]) -> Iterator[str]:
    definition = table["definition"]
    yield f"\n### {table['label'][:1].upper()}{table['label'][1:]}, `{name}`\n"
    close = (
        f"{table['close_percent']:g} % of it"
        if "close_percent" in table
        else _value(table["close"], "", table["unit"])[2:]
    )
    reach = (
        f" Above {_value(table['reach'], '', table['unit'])[2:]} it is outside the model."
        if "reach" in table
        else ""
    )
    factor = (
        f" The factor for an uneven shell is {_known(table, 'factor_')}."
        if "factor_evidence" in table
        else ""
    )
    low, high = table["bounds"]
    yield f"{definition[:1].upper()}{definition[1:]}.\n"
    yield (
        f"{table['hardness'].capitalize()}; close within {close}; {_known(table)}; your own from {low:g} to {high:g}."
        f"{factor}{reach}\n"
    )
    yield "| product | size, mm | steel | value | remark |\n|---|---|---|---|---|"
    for row in table["row"]:
        yield f"| {' | '.join(_cells(row, table))} |"


def _cells(row: Mapping[str, Any], table: Mapping[str, Any]) -> Iterator[str]:
    """Return the cells of one row of a limit."""
    yield ", ".join(row.get("product", ["all"]))
    low, high = row.get("size_mm", (0, float("inf")))
    yield (
        "all"
        if "size_mm" not in row
        else f"below {high:g}"
        if low == 0
        else f"{low:g} to {high:g}"
        if high < 1000
        else f"from {low:g}"
    )
    low, high = row.get("cp_percent", (0, 0))
    steel = [*row.get("steel", ())]
    if "cp_percent" in row:
        steel.append(
            f"C_p below {high:g} %"
            if low < 0
            else f"C_p from {low:g} %"
            if high >= 3
            else f"C_p {low:g} to {high:g} %"
        )
    yield ", ".join(steel) or "all"
    factor = f", shell × {row['factor']:g}" if "factor" in row else ""
    share = row.get("cutoff_percent", 0.0)
    yield (
        _value(row["value"], table["sense"], table["unit"], share) + factor
        if "value" in row
        else "not judged"
    )
    remarks = [
        row.get("reason", ""),
        row.get("note", ""),
        f"on {row['lubricant']}" if "lubricant" in row else "",
    ]
    remarks.append("down to the first straightening point" if row.get("until") == "straightener" else "")
    remarks.append(_known({**table, **row}) if "evidence" in row else "")
    yield "; ".join(filter(None, remarks))


if __name__ == "__main__":
    page = Path(__file__).parents[2] / "docs" / "limits.md"
    write_whole(page, limits_text())
    print(page.relative_to(Path(__file__).parents[2]))
