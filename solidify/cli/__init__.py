"""The command line: one function a verb, with its imports inside, so that help and a refusal come at once."""

from __future__ import annotations

from solidify.cli.program import commands, main

__all__ = ["commands", "main"]
