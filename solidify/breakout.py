"""Breakout risk of a computed mid-face slice: words and reasons, never a number, never an instruction."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from solidify.verdict import Finding

__all__ = ["STATEMENT", "WEIGHTS", "WORDS", "BreakoutRisk", "Reason", "breakout_risk"]

STATEMENT = "This is no detector and no permission."
"""Follows every breakout risk, wherever it is shown."""

WORDS = ("no reason found", "reason to look", "strong reason")
"""The three words a breakout risk can have, by growing weight."""

WEIGHTS = ("none", "not known", "look", "strong")
"""Weights of a single reason: nothing found, nothing to judge by, reason to look, strong reason."""


@dataclass(frozen=True)
class Reason:
    """One thing that was looked at.

    Parameters
    ----------
    name : str
        Finding it comes from, or ``"mould_flux_origin"``.
    weight : str
        One of `WEIGHTS`.
    text : str
        What was found and the physics of it, one plain sentence without a full stop.
    moves : str
        What its inputs do to the shell at mould exit, ``"10 K less superheat: 0.8 mm more shell"``; empty while
        that is not known.
    """

    name: str
    weight: str
    text: str
    moves: str = ""


@dataclass(frozen=True)
class BreakoutRisk:
    """What a mid-face slice can say about a breakout.

    Parameters
    ----------
    words : str
        One of `WORDS`.
    reasons : tuple of Reason
        Everything that was looked at, the heaviest first.
    statement : str
        `STATEMENT`.
    """

    words: str
    reasons: tuple[Reason, ...]
    statement: str = STATEMENT

    @property
    def raised(self) -> tuple[Reason, ...]:
        """The reasons that weigh."""
        return tuple(r for r in self.reasons if r.weight in ("look", "strong"))


def breakout_risk(
    findings: Mapping[str, Finding], flux_measured: bool, factor: float, rise_below_mould: float = math.nan
) -> BreakoutRisk:
    """Weigh the findings that speak of a breakout.

    A shell under its floor is a strong reason. A shell close to its floor, a mould flux off what the plant
    calls normal, a superheat or a time in the mould outside or close to its limit, a surface that warms up
    again in the first metre below the mould are reasons to look.

    Parameters
    ----------
    findings : mapping of str to Finding
        By name.
    flux_measured : bool
        False when the mould flux is a handbook relation.
    factor : float
        Unevenness of the shell, thinnest over mean [1].
    rise_below_mould : float
        Largest rise of the surface within the first metre below the mould [K]; NaN when not known.

    Returns
    -------
    BreakoutRisk
    """
    shell = findings.get("shell_floor")
    reasons = []
    for name, weigh in _WEIGHERS.items():
        finding = findings.get(name)
        if finding is not None and finding.judged:
            reasons.append(Reason(name, _weight(finding), weigh(finding, factor), _moves(name, shell)))
    reasons += _reheating(findings.get("reheating_total"), rise_below_mould)
    if not flux_measured:
        text = "flux not measured: the shell rests on a handbook relation for the lubricant"
        reasons.append(Reason("mould_flux_origin", "not known", text))
    deviation = findings.get("mould_flux_deviation")
    if deviation is None or not deviation.judged:
        text = "no normal mould heat flux is given: a drift of powder, taper or water cannot be seen"
        reasons.append(Reason("mould_flux_deviation", "not known", text))
    reasons.sort(key=lambda r: -WEIGHTS.index(r.weight))
    weights = {r.weight for r in reasons}
    words = WORDS[2] if "strong" in weights else WORDS[1] if "look" in weights else WORDS[0]
    return BreakoutRisk(words, tuple(reasons))


def _weight(finding: Finding) -> str:
    if finding.verdict == "kept":
        return "none"
    return "strong" if finding.hardness == "hard" and finding.verdict == "breached" else "look"


_STEPS = {
    "mould heat flux": (-10.0, "10 % less mould heat flux"),
    "superheat": (-10.0, "10 K less superheat"),
    "casting speed": (-2.0, "a true speed 2 % under its reading"),
}
"""Input -> a step of it as plants see it, in its own unit, and the words for it.

Of the speed only the reading: the mean heat flux was measured and stays, which it does not when a strand is slowed.
"""

_OWN_INPUT = {
    "mould_flux_deviation": "mould heat flux",
    "superheat_window": "superheat",
    "dwell": "casting speed",
}
"""Finding -> the one input that stands behind it; behind the shell stand all of them."""


def _moves(name: str, shell: Finding | None) -> str:
    """Say what the inputs behind a reason do to the shell at mould exit: figures, no advice."""
    if shell is None or (name not in _OWN_INPUT and name != "shell_floor"):
        return ""
    own = _OWN_INPUT.get(name)
    texts = []
    for effect in shell.effects:
        if effect.input not in _STEPS or own not in (None, effect.input):
            continue
        step, words = _STEPS[effect.input]
        change = effect.per(step)
        if abs(change) >= 0.05:
            texts.append(f"{words}: {abs(change):.1f} mm {'more' if change > 0 else 'less'} shell")
    return "; ".join(texts)


def _reheating(total: Finding | None, rise: float) -> list[Reason]:
    """Weigh a surface that warms up again just below the mould against the limit of all reheating."""
    if total is None or not total.judged or math.isnan(rise):
        return []
    if rise < 1.0:
        return [Reason("reheating_below_mould", "none", "the surface does not warm up again below the mould")]
    text = f"the surface warms up again by {rise:.0f} K within a metre below the mould"
    if rise <= total.upper:
        return [Reason("reheating_below_mould", "none", f"{text}, limit {total.bound_text}")]
    text += f", more than {total.bound_text}: a hot shell is weak, bulges and strains its front"
    return [Reason("reheating_below_mould", "look", text)]


def _floor(finding: Finding, factor: float) -> str:
    text = f"mean shell {finding.value_text}, practice floor {finding.bound_text} ({finding.room})"
    return (
        text
        if finding.verdict == "kept"
        else f"{text}: a thin shell stretches and tears where it is thinnest"
    )


def _strength(finding: Finding, factor: float) -> str:
    text = f"thinnest place about {finding.value_text} (mean × {factor:g})"
    if finding.verdict == "kept":
        return f"{text}, {finding.bound_text} carries the liquid steel above"
    return (
        f"{text}: shells of this steel grow uneven, and {finding.bound_text} carries the liquid steel above"
    )


def _hot_strength(finding: Finding, factor: float) -> str:
    text = f"at its heat the shell carries {finding.value:.1f} times the pull of the liquid's head"
    if finding.verdict == "kept":
        return text
    return f"{text}: near its solidus steel has little strength, and it tears where it is thinnest"


def _deviation(finding: Finding, factor: float) -> str:
    text = f"mould heat flux {finding.value_text} against normal ({finding.room})"
    if finding.verdict == "kept":
        return text
    return (
        f"{text}: {'less heat out, less shell' if finding.value < 0 else 'more contact, or a wrong reading'}"
    )


def _superheat(finding: Finding, factor: float) -> str:
    text = f"superheat {finding.value_text}, window {finding.limit_text}"
    if finding.verdict == "kept":
        return text
    if finding.value - finding.lower > finding.upper - finding.value:
        return f"{text}: hot steel heats the shell from inside, it grows thinner and melts back under streams"
    return f"{text}: cold steel freezes at the meniscus and feeds the lubricant badly, shells stick"


def _dwell(finding: Finding, factor: float) -> str:
    text = f"{finding.value_text} in the mould, {finding.bound_text} or more usual"
    return text if finding.verdict == "kept" else f"{text}: little time to grow a shell"


_WEIGHERS = {
    "shell_floor": _floor,
    "strength_floor": _strength,
    "hot_strength": _hot_strength,
    "mould_flux_deviation": _deviation,
    "superheat_window": _superheat,
    "dwell": _dwell,
}
