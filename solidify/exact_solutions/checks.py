"""What every exact solution asks of its numbers."""

from __future__ import annotations

import math

from solidify.errors import InputError, Problem

__all__ = ["check_positive"]


def check_positive(**values: float) -> None:
    """Refuse values that are not finite and above zero, all at once.

    Parameters
    ----------
    **values : float
        By the name of the argument that they were given for.

    Raises
    ------
    InputError
        With each that is refused.
    """
    bad = [
        Problem(name, f"{value:g}", "a finite number above 0")
        for name, value in values.items()
        if not (math.isfinite(value) and value > 0.0)
    ]
    if bad:
        raise InputError(bad)
