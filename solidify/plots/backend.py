"""The drawing library, loaded also where a notebook's environment names a backend that is not installed here."""

from __future__ import annotations

import os
import sys
from contextlib import suppress

__all__ = ["load_matplotlib"]

BACKEND = "MPLBACKEND"
"""Environment variable with the backend for windows; pictures here are files and need none."""


def load_matplotlib() -> None:
    """Import matplotlib; a backend that it refuses is left out, where it would end the import."""
    named = None if "matplotlib" in sys.modules else os.environ.pop(BACKEND, None)
    try:
        import matplotlib
    finally:
        if named is not None:
            os.environ[BACKEND] = named
    if named:
        with suppress(ValueError):
            matplotlib.rcParams["backend"] = named
