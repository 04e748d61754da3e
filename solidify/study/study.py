"""A study: a base case, what varies and how it was sampled, what is kept of each run."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from importlib.metadata import version
from typing import Any

import numpy as np

from solidify.case import Case
from solidify.storage.study_schema import SAMPLED, columns

__all__ = ["KEEP", "PROPERTY_FILE", "SAMPLED", "SAMPLINGS", "Study"]

SAMPLINGS = ("grid", "latin", "sobol", "sobol indices")
"""Every combination; Latin hypercube; scrambled Sobol sequence; the pairs of draws that Sobol indices want."""

PROPERTY_FILE = "steel.property_file"
"""The one key whose value is not all that matters: the contents of the file do."""

KEEP = ("summary", "findings", "profiles")
"""What can be kept of each run."""


@dataclass(frozen=True)
class Study:
    """Many strands made from one case. Made by `make_study` or `read_study` of `solidify.study.definition`.

    Parameters
    ----------
    case : Case
        The base case.
    inputs : tuple of str
        Key paths of what varies.
    choices : tuple of tuple
        Grid: the values of each input, which are combined, the last input fastest. Empty otherwise.
    rows : tuple of tuple
        Sampled or from a table: the values of every run, in the order of `inputs`; None leaves the base case as
        it is. Empty for a grid.
    sampling : str
        One of `SAMPLINGS`, or ``"table"``.
    seed : int
        Of the sampling.
    keep : tuple of str
        Which of `KEEP`.
    name : str
        Of the file, for messages.
    files : mapping of str to str
        Property files that runs name, and what stood in them when the study was made.
    """

    case: Case
    inputs: tuple[str, ...]
    choices: tuple[tuple[Any, ...], ...] = ()
    rows: tuple[tuple[Any, ...], ...] = ()
    sampling: str = "grid"
    seed: int = 0
    keep: tuple[str, ...] = ("summary", "findings")
    name: str = field(default="study", compare=False)
    files: Mapping[str, str] = field(default_factory=dict)

    @property
    def runs(self) -> int:
        """Number of runs."""
        return len(self.rows) if self.sampling != "grid" else math.prod(map(len, self.choices))

    def values(self, run: int) -> dict[str, Any]:
        """Return what one run sets, key path to value in the units of the case file.

        Parameters
        ----------
        run : int
            Counted from 0.

        Returns
        -------
        dict
        """
        if self.sampling != "grid":
            return {name: v for name, v in zip(self.inputs, self.rows[run], strict=True) if v is not None}
        places = np.unravel_index(run, [len(c) for c in self.choices])
        return {name: c[i] for name, c, i in zip(self.inputs, self.choices, places, strict=True)}

    def column(self, place: int) -> list[Any]:
        """Return what one input is in every run, in the units of the case file; as in the base case where not set.

        Parameters
        ----------
        place : int
            Of the input in `inputs`.

        Returns
        -------
        list
        """
        if self.sampling != "grid":
            own = self.case.value(self.inputs[place])
            return [own if row[place] is None else row[place] for row in self.rows]
        faster = math.prod(map(len, self.choices[place + 1 :]))
        once = [value for value in self.choices[place] for _ in range(faster)]
        return once * (self.runs // len(once))

    def case_for(self, changes: Iterable[Mapping[str, Any]]) -> Case:
        """Return the base case with the text of each property file that some runs name, as the study found it.

        Parameters
        ----------
        changes : iterable of mapping
            From `values`.

        Returns
        -------
        Case
            The base case itself where no run names one.
        """
        named = {change[PROPERTY_FILE] for change in changes if PROPERTY_FILE in change} & self.files.keys()
        return self.case.carrying({name: self.files[name] for name in sorted(named)}) if named else self.case

    @property
    def fractions(self) -> tuple[float, ...]:
        """Solid fractions whose shell is kept [1]: the three always reported, and the headline if it is fixed."""
        own = () if "shell.solid_fraction" in self.inputs else (self.case.shell.solid_fraction,)
        return tuple(sorted({0.3, 0.7, 1.0, *own}))

    @cached_property
    def fingerprint(self) -> str:
        """Hash of all that the results depend on: case and property files as they are, inputs, columns, version."""
        parts: list[Any] = [
            version("solidify"),
            self.case.effective_toml(),
            self.inputs,
            self.sampling,
            list(columns(self.keep)),
        ]
        parts += [self.choices, self.rows, self.case.property_text, sorted(self.files.items())]
        return hashlib.sha256(json.dumps(parts, default=repr).encode()).hexdigest()
