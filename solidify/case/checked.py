"""The case: caster, steel and practice, checked as a whole and never changed afterwards."""

from __future__ import annotations

import contextlib
import math
import tomllib
from collections.abc import Collection, Mapping, Sequence
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import tomli_w
from pydantic import Field, PrivateAttr, ValidationError
from pydantic.json_schema import GenerateJsonSchema

from solidify.case.given import Flaw, Given, Rule, reads, touched
from solidify.case.lines import KeyPath
from solidify.case.messages import key_name, key_problems, schema_at, value_flaws
from solidify.case.model import (
    EMISSIVITY,
    LINE,
    PRESCRIBED,
    RELATIONS,
    ROLL_CONTACT,
    Casting,
    Cooling,
    Machine,
    Mould,
    Section,
    Shell,
    SteelInput,
    Steps,
    Table,
    Uncertainty,
    Zone,
    words,
)
from solidify.case.rules import (
    MEASURED,
    RULES,
    TROUGH,
    ductility_criteria,
    printed_unit,
    shipped_limits,
)
from solidify.errors import InputError, Notice, Problem, closest
from solidify.files import read_words
from solidify.grid import usual_nodes
from solidify.units import M_PER_MIN, MM

__all__ = ["Case", "case_schema", "checked_case"]

_PROPERTY_FILE = "property file"


class Case(Table):
    """A caster, a steel and a practice, checked; made by `read_case`, `parse_case` or `Case.replace`."""

    title: str = words("One line that every output carries", max_length=200, pattern=LINE)
    steel: SteelInput
    section: Section
    casting: Casting
    mould: Mould
    cooling: Cooling = Cooling()
    zone: tuple[Zone, ...] = Field(min_length=1, description="The cooling zones in casting order")
    machine: Machine
    shell: Shell = Shell()
    uncertainty: Uncertainty = Uncertainty()
    limits: dict[str, Any] = Field({}, description="Overrides of the shipped limits, by name")
    steps: Steps = Steps()

    _data: Mapping[str, Any] = PrivateAttr(default_factory=dict)
    _text: str | None = PrivateAttr(None)
    _name: str = PrivateAttr("case")
    _folder: Path = PrivateAttr(Path())
    _properties: str | None = PrivateAttr(None)
    _file_speed: float = PrivateAttr(math.nan)
    _reads: list[tuple[Rule, frozenset[tuple[Any, ...]]]] | None = PrivateAttr(None)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Case) and self.__dict__ == other.__dict__

    __hash__ = None  # type: ignore[assignment]

    # What it was read from

    @property
    def name(self) -> str:
        """Name of the file it was read from, for messages and default file names."""
        return self._name

    @property
    def text(self) -> str:
        """The case file as given; of a replaced case, written anew."""
        if self._text is not None:
            return self._text
        data = dict(self._data)
        if self.mould.measured_at_speed_m_per_min is not None:
            pinned = {"measured_at_speed_m_per_min": self.mould.measured_at_speed_m_per_min}
            data["mould"] = {**data["mould"], **pinned}
        return tomli_w.dumps(data)

    @property
    def property_path(self) -> Path | None:
        """The property file of the steel, found from the case file's folder; None without one."""
        return None if self.steel.property_file is None else self._folder / self.steel.property_file

    @property
    def property_text(self) -> str:
        """What stood in the property file of the steel when the case was made; empty without one.

        A case read back from a result has it from there. Where the file could not be read it is read now, and
        an `InputError` says what is wrong.
        """
        path = self.property_path
        if path is None:
            return ""
        return read_words(path, _PROPERTY_FILE) if self._properties is None else self._properties

    def _settle(self, name: str, folder: Path, properties: str | None = None) -> Case:
        """Say where the case comes from, and take the text of its property file along.

        Parameters
        ----------
        name : str
            Of the case file.
        folder : Path
            Where a property file is looked for.
        properties : str, optional
            Its text, if known; otherwise it is read here, if it can be.

        Returns
        -------
        Case
            The same one.
        """
        self._name, self._folder, self._properties = name, folder, properties
        if properties is None and self.property_path is not None:
            with contextlib.suppress(InputError, ValueError):
                self._properties = read_words(self.property_path, _PROPERTY_FILE)
        return self

    def effective_toml(self) -> str:
        """Every value used, defaults included, as a case file that reads back to an equal case.

        Returns
        -------
        str
        """
        return tomli_w.dumps(self.model_dump(exclude_none=True))

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
    def nodes(self) -> int:
        """Nodes from the surface to the centre: as many as asked for, or as its thickness wants."""
        return self.steps.nodes or usual_nodes(self.half_thickness)

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
        shift = self.mould.level_below_top_mm * MM if self.machine.distances_from == "mould top" else 0.0
        return max(distance - shift, 0.0)

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
    def notices(self) -> tuple[Notice, ...]:
        """What a reader of the result should know of the inputs."""
        found = []
        criterion = self.limits.get("ductility_criterion", next(iter(ductility_criteria())))
        if self.steel.reduction_of_area_percent is not None and not criterion.startswith("reduction_of_area"):
            text = f"reduction_of_area_percent has no effect: ductility_criterion is {criterion}"
            found.append(Notice(text, "steel"))
        speed = self.casting.speed_m_per_min
        for zone in self.zone:
            for key, rows in zone.tables().items():
                if not rows[0][0] <= speed <= rows[-1][0]:
                    text = (
                        f"{key} covers {rows[0][0]:g} to {rows[-1][0]:g} m/min, "
                        f"the case runs at {speed:g} m/min: the nearest row was taken"
                    )
                    found.append(Notice(text, f'zone "{zone.name}"'))
        return tuple(found)

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
                found.append(key_name(path, self._data))

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

        A mean mould flux keeps the speed at which it was measured: that of the file, unless
        ``mould.measured_at_speed_m_per_min`` says otherwise.

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
        data: dict[str, Any] = dict(self._data)
        problems, paths = [], []
        for name, value in changes.items():
            try:
                paths.append(self._locate(name))
                data = _put(data, paths[-1], frozen(value))
            except KeyError:
                problems.append(self._unknown(name))
        if problems:
            raise InputError(problems)
        case, flaws = checked_case(data, self._file_speed, self._rules_on(paths))
        if case is None:
            raise InputError(key_problems(flaws, data))
        kept = self._properties if case.steel.property_file == self.steel.property_file else None
        return case._settle(self._name, self._folder, kept)

    def _rules_on(self, paths: Collection[KeyPath]) -> Sequence[Rule]:
        """Return the rules that read any of some keys; the others find nothing wrong, as here."""
        if self._reads is None:
            self._reads = [(rule, reads(rule, self._data)) for rule in RULES]
        wanted = touched(paths)
        return [rule for rule, read in self._reads if not read.isdisjoint(wanted)]

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
            at = (
                at.get(key)
                if isinstance(at, dict)
                else at[key]
                if isinstance(key, int)
                else getattr(at, key, None)
            )
        return at

    def _locate(self, name: str) -> KeyPath:
        """Turn a dotted name into a key path; KeyError where the case has no such place."""
        path: KeyPath = _split(name)
        if path[0] == "zone" and len(path) > 1:
            names = [zone.name for zone in self.zone]
            if path[1] not in names:
                raise KeyError(name)
            path = ("zone", names.index(path[1]), *path[2:])
        if not _is_key(path):
            raise KeyError(name)
        return path


@lru_cache(maxsize=1024)
def _is_key(path: KeyPath) -> bool:
    """Whether the case file has a place for a key; limits are told by their own rule."""
    return path[0] == "limits" or bool(schema_at(case_schema(), path))


@lru_cache(maxsize=1024)
def _split(name: str) -> tuple[str, ...]:
    """Split a dotted key as TOML does; KeyError where it is none."""
    try:
        at: Any = tomllib.loads(f"{name} = 0") if "\n" not in name else {}
    except ValueError:
        raise KeyError(name) from None
    keys: list[str] = []
    while isinstance(at, dict):
        if len(at) != 1:
            raise KeyError(name)
        key, at = next(iter(at.items()))
        keys.append(key)
    return tuple(keys)


def frozen(value: Any) -> Any:
    """Return a value with lists and arrays as tuples and numbers as plain numbers, all the way down."""
    if isinstance(value, Mapping):
        return {key: frozen(below) for key, below in value.items()}
    if isinstance(value, list | tuple):
        return tuple(map(frozen, value))
    return frozen(value.tolist()) if hasattr(value, "tolist") else value


def _put(at: Any, path: KeyPath, value: Any) -> Any:
    """Return tables with one value set, sharing what did not change; None removes the key."""
    key, rest = path[0], path[1:]
    if isinstance(key, int):
        return (*at[:key], _put(at[key], rest, value) if rest else value, *at[key + 1 :])
    below = _put(at.get(key, {}), rest, value) if rest else value
    if below is None or (rest and below == {} and key not in at):
        return {k: v for k, v in at.items() if k != key}
    return {**at, key: below}


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
    schema = Case.model_json_schema(schema_generator=_Schema)
    for table in ("Cooling", "Zone"):
        for key, names in RELATIONS.items():
            schema["$defs"][table]["properties"][key]["enum"] = list(names)
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
    schema["properties"]["limits"] |= {"additionalProperties": False, "properties": limits}
    return {"$schema": GenerateJsonSchema.schema_dialect, **schema, "title": "solidify case file"}


def checked_case(
    data: Mapping[str, Any], file_speed: float = math.nan, rules: Sequence[Rule] = RULES
) -> tuple[Case | None, list[Flaw]]:
    """Check the tables of a case, values and rules together.

    Parameters
    ----------
    data : mapping
        The tables, lists as tuples.
    file_speed : float
        Speed at which a mean mould flux was measured unless the tables say so; by default theirs [m/min].
    rules : sequence of callable
        Rules to hold; those left out are known to hold.

    Returns
    -------
    case : Case or None
        None when anything is wrong.
    flaws : list of Flaw
        Everything wrong, values first.
    """
    case, flaws = None, []
    try:
        case = Case.model_validate(data)
    except ValidationError as error:
        flaws = value_flaws(error.errors(include_url=False), case_schema())
    meant = {(*flaw.path[:-1], flaw.closest) for flaw in flaws if flaw.closest}
    flaws = [flaw for flaw in flaws if flaw.path not in meant]
    given = Given(data, {flaw.path for flaw in flaws} | meant)
    flaws += [flaw for rule in rules for flaw in rule(given)]
    if case is None or flaws:
        return None, flaws
    speed = case.casting.speed_m_per_min if math.isnan(file_speed) else file_speed
    zones = tuple(_with_spray(zone, case.section.shape, case.section.width_mm) for zone in case.zone)
    own = {"mould": _with_water(case.mould, speed), "cooling": _with_surface(case.cooling), "zone": zones}
    case = case.model_copy(update=own)
    case._data, case._file_speed = data, speed
    return case, []


@lru_cache(maxsize=256)
def _with_water(mould: Mould, speed: float) -> Mould:
    """Put in the defaults that depend on what was measured: at which speed, on which faces."""
    own: dict[str, Any] = {}
    if mould.measured_at_speed_m_per_min is None and any(getattr(mould, key) is not None for key in MEASURED):
        own["measured_at_speed_m_per_min"] = speed
    if mould.water_faces is None and mould.water_flow_L_per_min is not None:
        own["water_faces"] = "all"
    return mould.model_copy(update=own)


@lru_cache(maxsize=256)
def _with_surface(cooling: Cooling) -> Cooling:
    """Put in what holds where neither a number nor a relation is given: no rolls, emissivity of oxidised steel."""
    own = {
        keys[0]: value
        for keys, value in ((ROLL_CONTACT, 0.0), (EMISSIVITY, 0.8))
        if all(getattr(cooling, key) is None for key in keys)
    }
    return cooling.model_copy(update=own)


@lru_cache(maxsize=1024)
def _with_spray(zone: Zone, shape: str, width_mm: float | None) -> Zone:
    """Put in the defaults that depend on the section: the faces sprayed and how much of the wide ones."""
    if zone.kind in PRESCRIBED:
        return zone
    own: dict[str, Any] = {}
    if zone.sprayed_faces is None:
        wide = not zone.narrow_sprayed if zone.by_side else shape == "slab"
        own["sprayed_faces"] = "wide" if wide else "all"
    if zone.sprayed_width_mm is None and shape != "round":
        own["sprayed_width_mm"] = width_mm
    return zone.model_copy(update=own)
