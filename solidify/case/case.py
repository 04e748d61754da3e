"""The case: caster, steel and practice, checked as a whole and never changed afterwards."""

from __future__ import annotations

import contextlib
import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

import tomli_w

from solidify.case.checked import checked_tables
from solidify.case.checks import ValidTables
from solidify.case.file import CaseFile
from solidify.case.limit_rules import ductility_criteria
from solidify.case.messages import key_problems
from solidify.case.model import (
    EMISSIVITY,
    ROLL_CONTACT,
    WHOLE_FLUX,
    Casting,
    Cooling,
    Machine,
    Mould,
    Section,
    Shell,
    SteelInput,
    Steps,
    Uncertainty,
    Zone,
)
from solidify.case.paths import KeyPath, key_name, named_keys, put
from solidify.case.questions import questions
from solidify.case.schema import case_schema, schema_at
from solidify.case.synonyms import canonical_path, canonical_value
from solidify.case.values import frozen
from solidify.case.width import followed, left_behind
from solidify.errors import InputError, Notice, Problem, closest
from solidify.files import read_words
from solidify.sources import load_data
from solidify.units import M_PER_MIN, MM

__all__ = ["ROLLS_ASSUMED", "Case", "Origin"]

TABLES = tuple(CaseFile.model_fields)


@dataclass(frozen=True)
class Origin:
    """What a case was made from.

    Parameters
    ----------
    given : ValidTables
        Its tables as given.
    speed : float
        Speed at which a mean mould flux was measured unless the tables say so [m/min].
    carbon : float, optional
        Equivalent carbon of the steel on which it was measured unless the tables say so [mass %]; None where it is
        not known.
    name : str
        Of the case file, for messages and default file names.
    folder : Path
        Where a property file is looked for.
    text : str, optional
        The case file; a replaced case has none.
    properties : str, optional
        What stood in the property file of the steel, if there is one that could be read.
    section, steel : table, optional
        Those of the file, for which its water was set and its mould flux measured; put in by `made_case`.
    carried : mapping of str to str
        What stood in other property files that the case may be changed to; those are not looked for.
    """

    given: ValidTables
    speed: float
    carbon: float | None = None
    name: str = "case"
    folder: Path = Path()
    text: str | None = None
    properties: str | None = None
    section: Section | None = None
    steel: SteelInput | None = None
    carried: Mapping[str, str] = field(default_factory=dict)


ROLLS_ASSUMED = "roll contact assumed"
"""Where a notice is from that says that roll contact was not given."""


@dataclass(frozen=True)
class Case:
    """A caster, a steel and a practice, checked; made by `read_case`, `parse_case` or `Case.replace`.

    Parameters
    ----------
    title : str
        One line that every output carries.
    steel, section, casting, mould, cooling, zone, machine, shell, uncertainty, limits, steps : table
        Those of the case file, every default put in, in the units of the file; zones in casting order.
    origin : Origin
        What it was made from. Cases that differ in nothing else are equal.
    """

    title: str
    steel: SteelInput
    section: Section
    casting: Casting
    mould: Mould
    cooling: Cooling
    zone: tuple[Zone, ...]
    machine: Machine
    shell: Shell
    uncertainty: Uncertainty
    limits: Mapping[str, Any]
    steps: Steps
    origin: Origin = field(repr=False, compare=False)

    __hash__ = None  # type: ignore[assignment]

    # What it was read from

    @property
    def name(self) -> str:
        """Name of the file it was read from, for messages and default file names."""
        return self.origin.name

    @property
    def text(self) -> str:
        """The case file as given; of a replaced case, written anew."""
        if self.origin.text is not None:
            return self.origin.text
        data = dict(self.origin.given.data)
        keys = ("measured_at_speed_m_per_min", "measured_at_carbon_equivalent_percent")
        pinned = {key: value for key in keys if (value := getattr(self.mould, key)) is not None}
        if pinned:
            data["mould"] = {**data["mould"], **pinned}
        return tomli_w.dumps(data)

    @property
    def property_path(self) -> Path | None:
        """The property file of the steel, found from the case file's folder; None without one."""
        return None if self.steel.property_file is None else self.origin.folder / self.steel.property_file

    @property
    def property_text(self) -> str:
        """What stood in the property file of the steel when the case was made; empty without one.

        A case read back from a result has it from there. Where the file could not be read it is read now, and
        an `InputError` says what is wrong.
        """
        path = self.property_path
        if path is None:
            return ""
        return _properties(path) if self.origin.properties is None else self.origin.properties

    def effective_toml(self) -> str:
        """Every value used, defaults included, as a case file that reads back to an equal case.

        Returns
        -------
        str
        """
        tables = CaseFile.model_construct(**{name: getattr(self, name) for name in TABLES})
        data = tables.model_dump(exclude_none=True)
        for zone in data["zone"]:
            if (
                WHOLE_FLUX in zone
            ):  # beside it a factor has no effect, and a case file that says one is refused
                del zone["spray_factor"]
        return tomli_w.dumps(data)

    # In SI

    @property
    def speed(self) -> float:
        """Casting speed [m/s]."""
        return self.casting.speed_m_per_min * M_PER_MIN

    @property
    def thickness(self) -> float:
        """Loose to fixed side, or the diameter [m]."""
        return (self.section.diameter_mm or self.section.thickness_mm or math.nan) * MM

    @property
    def width(self) -> float:
        """The other side, or the diameter [m]."""
        return (self.section.diameter_mm or self.section.width_mm or math.nan) * MM

    @property
    def half_thickness(self) -> float:
        """Surface to centre [m]."""
        return self.thickness / 2

    @property
    def section_area(self) -> float:
        """Cross-section of the strand [m2]."""
        return (
            math.pi * self.thickness**2 / 4 if self.section.shape == "round" else self.thickness * self.width
        )

    @property
    def working_length(self) -> float:
        """Meniscus to mould exit [m]."""
        return (self.mould.length_mm - self.mould.level_below_top_mm) * MM

    def from_meniscus(self, distance: float) -> float:
        """Turn a distance of the case file into one from the meniscus.

        Parameters
        ----------
        distance : float
            As the file counts it, see ``machine.distances_from`` [m].

        Returns
        -------
        float
            From the meniscus, not below zero [m].
        """
        return max(distance - self.datum, 0.0)

    @property
    def datum(self) -> float:
        """The meniscus as the file counts distances [m]."""
        return self.mould.level_below_top_mm * MM if self.machine.distances_from == "mould top" else 0.0

    @property
    def zone_bounds(self) -> tuple[tuple[float, float], ...]:
        """Start and end of each zone from the meniscus; the first starts at mould exit [m]."""
        ends = [self.from_meniscus(zone.end_m) for zone in self.zone]
        return tuple(zip([self.working_length, *ends], ends, strict=False))

    @property
    def vertical_length(self) -> float:
        """End of the vertical part from the meniscus [m]."""
        return self.from_meniscus(self.machine.vertical_length_m)

    @property
    def bending(self) -> tuple[float, ...]:
        """Bending points from the meniscus [m]."""
        return tuple(map(self.from_meniscus, self.machine.bending_m))

    @property
    def straightener(self) -> tuple[float, ...]:
        """Straightening points from the meniscus [m]."""
        return tuple(map(self.from_meniscus, self.machine.straightener_m))

    @property
    def support_end(self) -> float:
        """Last support from the meniscus [m]."""
        return self.from_meniscus(self.machine.support_end_m)

    @property
    def cutoff(self) -> float:
        """Cut-off from the meniscus [m]."""
        return self.from_meniscus(self.machine.cutoff_m)

    # Cooling, zone by zone

    def cooling_in(self, zone: Zone) -> Cooling:
        """Return the [cooling] table as it holds in one zone, the zone's own keys put in.

        Parameters
        ----------
        zone : Zone
            One of `Case.zone`.

        Returns
        -------
        Cooling
        """
        own = {key: value for key in Cooling.model_fields if (value := getattr(zone, key)) is not None}
        for keys in (ROLL_CONTACT, EMISSIVITY):
            if any(key in own for key in keys):
                own = dict.fromkeys(keys) | own
        return self.cooling.model_copy(update=own) if own else self.cooling

    @property
    def assumed_rolls(self) -> tuple[str, ...]:
        """Names of the zones whose roll contact is not given, and so taken as a share of their heat."""
        given = self.origin.given.data["zone"]
        return tuple(
            zone.name
            for zone, own in zip(self.zone, given, strict=True)
            if zone.roll_contact_share is not None and own.get("roll_contact_share") is None
        )

    @property
    def rolls_text(self) -> str:
        """What is assumed of roll contact, for print; empty where nothing is."""
        names = self.assumed_rolls
        if not names:
            return ""
        row = load_data("surface.toml")["roll_share"][self.section.shape]
        low, high = row["usual"]
        return (
            f"{100 * row['share']:g} % of the heat of {', '.join(names)} goes into their rolls (common practice "
            f"{100 * low:g} to {100 * high:g} %); give roll_contact_share, or roll_contact_W_per_m2K = 0 for none"
        )

    @property
    def notices(self) -> tuple[Notice, ...]:
        """What a reader of the result should know of the inputs."""
        found = []
        criterion = self.limits.get("ductility_criterion", next(iter(ductility_criteria())))
        if self.steel.reduction_of_area_percent is not None and not criterion.startswith("reduction_of_area"):
            text = f"reduction_of_area_percent has no effect: ductility_criterion is {criterion}"
            found.append(Notice(text, "steel"))
        if self.assumed_rolls:
            found.append(Notice(self.rolls_text, ROLLS_ASSUMED))
        corners = [self.mould.corner_heat_flux_factor, self.cooling.corner_spray_factor]
        if any(
            factor is not None for factor in (*corners, *(zone.corner_spray_factor for zone in self.zone))
        ):
            text = "corner factors act in two dimensions alone (solidify section): a slice has no corners"
            found.append(Notice(text, "section"))
        speed = self.casting.speed_m_per_min
        for zone in self.zone:
            for key, rows in zone.tables().items():
                if not rows[0][0] <= speed <= rows[-1][0]:
                    text = (
                        f"{key} covers {rows[0][0]:g} to {rows[-1][0]:g} m/min, "
                        f"the case runs at {speed:g} m/min: the nearest row was taken"
                    )
                    found.append(Notice(text, f'zone "{zone.name}"'))
        return (*found, *left_behind(self), *questions(self))

    # Other cases from this one

    def key_paths(self) -> list[str]:
        """Every key path that this case has a place for, zones by name, e.g. ``casting.speed_m_per_min``."""
        schema = case_schema()
        found: list[str] = []

        def walk(at: Mapping[str, Any], path: KeyPath) -> None:
            if "$ref" in at:
                at = schema["$defs"][at["$ref"].rsplit("/", 1)[1]]
            if path == ("zone",):
                for index in range(len(self.zone)):
                    walk(at["items"], ("zone", index))
            elif "properties" in at:
                for key, below in at["properties"].items():
                    walk(below, (*path, key))
            else:
                found.append(key_name(path, self.origin.given.data))

        walk(schema, ())
        return found

    def about(self, name: str) -> Mapping[str, Any]:
        """Return what the case file accepts for one key, as its JSON Schema says.

        Parameters
        ----------
        name : str
            Key path, as in `replace`.

        Returns
        -------
        mapping
            With ``type`` and where they apply ``minimum``, ``maximum``, ``enum``, ``unit``, ``description``.

        Raises
        ------
        InputError
            If there is no such key.
        """
        try:
            return schema_at(case_schema(), self._locate(name))
        except KeyError:
            raise InputError(self._unknown(name)) from None

    def _unknown(self, name: str) -> Problem:
        near = closest(name, self.key_paths())
        return Problem(name, "is not a key of the case", closest=near, do="check the path")

    def replace(self, changes: Mapping[str, Any]) -> Case:
        """Return a case with some keys set to other values, checked like a file.

        A mean mould flux keeps the speed and the steel at which it was measured: those of the file, unless
        ``mould.measured_at_speed_m_per_min`` and ``mould.measured_at_carbon_equivalent_percent`` say otherwise.

        Parameters
        ----------
        changes : mapping of str to value
            Key path to value in the units of the case file; None removes the key. Zones go by name:
            ``zone."foot rolls".water_L_per_min``.

        Returns
        -------
        Case

        Raises
        ------
        InputError
            If a path does not exist or a value is refused, with the key path; all problems at once.
        """
        data = self.origin.given.data
        zones = data["zone"]
        problems, paths = [], []
        for name, value in changes.items():
            try:
                path = self._locate(name, zones)
            except KeyError:
                problems.append(self._unknown(name))
                continue
            data = put(data, path, canonical_value(frozen(value)))
            paths.append(path)
            if path == ("zone",):
                zones = data.get("zone")
        if problems:
            raise InputError(problems)
        follow, stuck = followed(self, data, paths)
        if stuck:
            raise InputError(key_problems(stuck, data))
        for path, value in follow:
            data = put(data, path, frozen(value))
            paths.append(path)
        given = self.origin.given
        checks = given.checks_on(tuple(paths))
        tables, issues = checked_tables(
            data, self.origin.speed, self._unchanged(data), checks, self.origin.carbon
        )
        if issues:
            raise InputError(key_problems(issues, data))
        file = tables["steel"].property_file
        same = file == self.steel.property_file
        properties = self.origin.properties if same else self.origin.carried.get(file)
        tables_given = given.changed(data, checks)
        origin = dataclasses.replace(self.origin, given=tables_given, text=None, properties=properties)
        return made_case(tables, origin)

    def carrying(self, properties: Mapping[str, str]) -> Case:
        """Return the same case, which knows what stands in property files that it may be changed to.

        Parameters
        ----------
        properties : mapping of str to str
            Name of each, as ``steel.property_file`` gives it, and its text; those are not looked for.

        Returns
        -------
        Case
        """
        return dataclasses.replace(self, origin=dataclasses.replace(self.origin, carried=properties))

    def _unchanged(self, data: Mapping[str, Any]) -> dict[str, Any]:
        """Return the tables that a change of those given leaves as they are, and the zones each by itself."""
        given = self.origin.given.data
        known = {name: getattr(self, name) for name in TABLES if data.get(name) is given.get(name)}
        zones = data.get("zone")
        if "zone" not in known and isinstance(zones, tuple) and len(zones) == len(self.zone):
            places = zip(self.zone, given["zone"], zones, strict=True)
            known["zone"] = tuple(zone if now is before else now for zone, before, now in places)
        return known

    def value(self, name: str) -> Any:
        """Return the value used for one key.

        Parameters
        ----------
        name : str
            Key path, as in `replace`.

        Returns
        -------
        object
            In the units of the case file; None where an optional key was not given.

        Raises
        ------
        InputError
            If there is no such key.
        """
        try:
            path = self._locate(name)
        except KeyError:
            raise InputError(self._unknown(name)) from None
        at: Any = self
        for key in path:
            at = _part(at, key)
        return at

    def _locate(self, name: str, zones: Any = None) -> KeyPath:
        """Turn a dotted name into a key path, by default among its own zones; KeyError where there is none."""
        path: KeyPath = named_keys(name)
        if path[0] == "zone" and len(path) > 1:
            zones = zones if isinstance(zones, tuple) else self.origin.given.data["zone"]
            names = [zone.get("name") if isinstance(zone, Mapping) else None for zone in zones]
            if path[1] not in names:
                raise KeyError(name)
            path = ("zone", names.index(path[1]), *path[2:])
        path = canonical_path(path)
        if not _is_key(path):
            raise KeyError(name)
        return path


def made_case(tables: Mapping[str, Any], origin: Origin) -> Case:
    """Make a case from checked tables, and take the text of its property file along.

    Parameters
    ----------
    tables : mapping
        From `solidify.case.checked.checked_tables`.
    origin : Origin
        What they were made from; without the text of a property file it is read here, if it can be.

    Returns
    -------
    Case
    """
    file = tables["steel"].property_file
    if file is not None and origin.properties is None:
        with contextlib.suppress(InputError, ValueError):
            origin = dataclasses.replace(origin, properties=_properties(origin.folder / file))
    if origin.section is None:
        origin = dataclasses.replace(origin, section=tables["section"], steel=tables["steel"])
    return Case(**tables, origin=origin)


def _part(at: Any, key: str | int) -> Any:
    """Return what stands under a key, or at a position, None where nothing does."""
    if isinstance(key, int):
        return at[key]
    return at.get(key) if isinstance(at, Mapping) else getattr(at, key, None)


def _properties(path: Path) -> str:
    return read_words(path, "property file")


@lru_cache(maxsize=1024)
def _is_key(path: KeyPath) -> bool:
    """Whether the case file has a place for a key; limits are told by their own rule."""
    return path[0] == "limits" or bool(schema_at(case_schema(), path))
