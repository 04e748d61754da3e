"""Where the numbers of a steel come from, how well they are known, and what its user should be told."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from solidify.errors import Notice
from solidify.steel.coefficients import choice, entries, outside, recalled
from solidify.steel.liquidus import DEFAULT_LIQUIDUS, disagreement, liquidus_relations
from solidify.steel.path import BACK_DIFFUSION, parameter_sets, path_models
from solidify.steel.properties import conductivity_relations

__all__ = ["Relations", "evidence", "notices"]


@dataclass(frozen=True)
class Relations:
    """The relations a steel is built with, by name.

    Parameters
    ----------
    liquidus : str
        One of `solidify.steel.liquidus_relations`.
    path : str
        Back-diffusion model.
    segregation : str
        Partition set.
    conductivity : str
        Conductivity relation.

    Raises
    ------
    InputError
        At the first name that does not exist.
    """

    liquidus: str = DEFAULT_LIQUIDUS
    path: str = "won_thomas_2001"
    segregation: str = "phase_lines"
    conductivity: str = "harste_1989"

    def __post_init__(self) -> None:
        choice(self.liquidus, liquidus_relations(), "liquidus_relation")
        choice(self.path, path_models(), "path_model")
        choice(self.segregation, parameter_sets(), "segregation_parameters")
        choice(self.conductivity, conductivity_relations(), "conductivity_relation")

    @property
    def diffuses(self) -> bool:
        """Whether the path depends on diffusion, and so on cooling rate and arm spacing."""
        return self.path not in ("lever", "no_diffusion")


def evidence(composition: Mapping[str, float], relations: Relations) -> dict[str, tuple[str, str]]:
    """Return where each quantity of a steel comes from.

    Parameters
    ----------
    composition : mapping of str to float
        Element -> [mass %].
    relations : Relations
        The relations in use.

    Returns
    -------
    dict of str to (str, str)
        Quantity -> source key and how well it is known.

    Examples
    --------
    >>> evidence({"C": 0.2}, Relations())["density of the liquid"]
    ('assael_2006', 'from memory')
    """
    segregation, other, conductivity = (entries(n) for n in ("segregation", "transformation", "conductivity"))
    used = {
        "liquidus": entries("liquidus")[relations.liquidus],
        "partition": segregation[relations.segregation],
        "back-diffusion": {"source": BACK_DIFFUSION[relations.path][0], "evidence": "recalled"},
        "hot-strength temperatures": segregation["hot_strength"],
        "delta to gamma": other["a4"],
        "A1": other["ae1"],
        "A3": other["ae3"],
        "ferrite potential": entries("composition")["ferrite_potential"],
        "enthalpy": entries("enthalpy")["alpha"],
        "conductivity": conductivity[relations.conductivity],
        "stirring of the pool": conductivity["pool"],
        "density of the solid": entries("density")["gamma"],
        "density of the liquid": entries("density")["liquid"],
    }
    if relations.diffuses:
        used["diffusion in the solid"] = segregation["diffusion"]
        used["arm spacing"] = segregation["arm_spacing"]
    present = [element for element, value in composition.items() if value > 0.0]
    return {name: (entry["source"], recalled(entry, present)) for name, entry in used.items()}


def notices(composition: Mapping[str, float], relations: Relations) -> tuple[Notice, ...]:
    """Return what a user should know about the relations used for this steel.

    Parameters
    ----------
    composition : mapping of str to float
        Element -> [mass %].
    relations : Relations
        The relations in use.

    Returns
    -------
    tuple of Notice
        Disagreement of liquidus relations, ranges that are left, elements that nothing takes.
    """
    liquidus = entries("liquidus")[relations.liquidus]
    segregation, other = entries("segregation"), entries("transformation")
    found = list(disagreement(composition, relations.liquidus))
    found += outside(liquidus, composition, f"liquidus relation {relations.liquidus}")
    found += outside(
        segregation[relations.segregation], composition, f"segregation set {relations.segregation}"
    )
    if relations.diffuses:
        found += outside(segregation["arm_spacing"], composition, "arm spacing relation won_thomas_2001")
    found += outside(other["ae3"], composition, "Andrews' relation for A1 and A3")
    conductivity = entries("conductivity")[relations.conductivity]
    found += outside(conductivity, composition, f"conductivity relation {relations.conductivity}")
    taken = {"C", *entries("composition")["ferrite_potential"]["slopes"]}
    for table in (liquidus, liquidus.get("delta", {}), other["ae1"], other["ae3"]):
        taken |= set(table.get("slopes", {}))
    unused = [element for element, value in composition.items() if value > 0.0 and element not in taken]
    if unused:
        found.append(Notice(f"no relation in use takes {', '.join(unused)}", "steel composition"))
    return tuple(found)
