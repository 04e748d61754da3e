"""The tables of a case, checked: values and rules together, then the defaults that depend on other keys."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import ValidationError

from solidify.case.checks import Check, checks_of
from solidify.case.defaults import (
    equivalent_carbon,
    with_faces,
    with_measured,
    with_rolls,
    with_surface,
    with_uncertainty,
)
from solidify.case.file import CaseFile
from solidify.case.given import Issue, RawCase
from solidify.case.messages import value_issues
from solidify.case.schema import case_schema
from solidify.case.trap_rules import swapped_sizes

__all__ = ["checked_tables"]


def checked_tables(
    data: Mapping[str, Any],
    speed: float | None = None,
    known: Mapping[str, Any] | None = None,
    checks: Sequence[Check] | None = None,
    carbon: float | None = None,
) -> tuple[dict[str, Any], list[Issue]]:
    """Check the tables of a case.

    Parameters
    ----------
    data : mapping
        As given, lists as tuples.
    speed : float, optional
        Speed at which a mean mould flux was measured unless the tables say so; by default theirs [m/min].
    known : mapping, optional
        Tables that are known to be right, as this function returned them: they are not read again. Of zones each
        alone may be, in the place where it stands.
    checks : sequence of Check, optional
        Those to make, where the others are known to find nothing; by default all.
    carbon : float, optional
        Equivalent carbon of the steel on which the mould flux was measured unless the tables say so; without a speed
        theirs [mass %].

    Returns
    -------
    tables : dict
        Those of `solidify.case.file.CaseFile` with every default put in; empty when anything is wrong.
    issues : list of Issue
        Everything wrong, values first.
    """
    known = known or {}
    tables: dict[str, Any] = {}
    issues: list[Issue] = []
    try:
        tables = dict(vars(CaseFile.model_validate({**data, **known})))
    except ValidationError as error:
        issues = value_issues(error.errors(include_url=False), case_schema())
    meant = {(*issue.path[:-1], issue.closest) for issue in issues if issue.closest}
    issues = [issue for issue in issues if issue.path not in meant]
    given = RawCase(data, {issue.path for issue in issues} | meant)
    for check in checks_of(given) if checks is None else checks:
        if not check.table or given.table(*check.table):
            issues += check.issues(given)
    if swapped_sizes(given):
        issues = [issue for issue in issues if not _follows_swapped_sizes(issue)]
    if issues or not tables:
        return {}, issues
    if "mould" not in known:
        carbon = carbon if speed else equivalent_carbon(tables["steel"])
        tables["mould"] = with_measured(tables["mould"], speed or tables["casting"].speed_m_per_min, carbon)
    section, common = tables["section"], data.get("cooling") or {}
    settled = "section" in known and "cooling" in known
    if not settled:
        tables["cooling"] = with_surface(tables["cooling"], common, section)
    places = zip(tables["zone"], known.get("zone", data["zone"]), data["zone"], strict=True)
    tables["zone"] = tuple(
        zone
        if settled and zone is before
        else with_rolls(with_faces(zone, own, section), own, common, section)
        for zone, before, own in places
    )
    tables["uncertainty"] = with_uncertainty(data, tables["uncertainty"], tables)
    return tables, []


def _follows_swapped_sizes(issue: Issue) -> bool:
    """Whether a flaw only says again that thickness and width are swapped."""
    of_section = issue.path[:1] == ("section",) and "swapped" not in issue.message
    return (of_section and issue.path[1:] in (("thickness_mm",), ("width_mm",))) or (
        issue.path[-1] == "sprayed_width_mm" and "more than width_mm" in issue.message
    )
