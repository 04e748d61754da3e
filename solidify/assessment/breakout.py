"""Breakout risk of a computed mid-face slice: words and reasons, never a number, never an instruction."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np

from solidify.assessment.finding import NO_LIMIT, NOT_JUDGED, Finding

__all__ = ["STATEMENT", "WEIGHTS", "WORDS", "BreakoutRisk", "Reason", "breakout_risk", "risk_of", "weigh"]

STATEMENT = "This is no detector and no permission."
"""Follows every breakout risk, wherever it is shown."""

WORDS = ("no reason found", "reason to look", "strong reason")
"""The three words a breakout risk can have, by growing weight."""

WEIGHTS = ("none", "not known", "look", "strong")
"""Weights of a single reason: nothing found, nothing to judge by, reason to look, strong reason."""

NONE, _, LOOK, STRONG = range(4)
NOT_WEIGHED = -1
"""In place of a weight where the limit behind a reason is not judged."""

_BY_VERDICT = [np.array([NONE, LOOK, worst, NOT_WEIGHED, NOT_WEIGHED]) for worst in (LOOK, STRONG)]
"""Weight by verdict on a soft limit and on a hard one, in the order of `VERDICTS`; the last is that of `NO_LIMIT`."""

_BY_WEIGHT = (0, 0, 1, 2, 0)
"""Place in `WORDS` for the heaviest of all weights; the last entry is that of `NOT_WEIGHED`."""

SOME_RISE = 1.0
"""Rise of the surface that counts as one [K]; our own choice."""


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


def weigh(
    verdict: Mapping[str, np.ndarray], hard: Collection[str], rise: np.ndarray, most: float
) -> dict[str, np.ndarray]:
    """Weigh the verdicts that speak of a breakout, for strands side by side.

    A shell under its floor is a strong reason. A shell close to its floor, faces that bend, a mould flux off what
    the plant calls normal, a superheat or a time in the mould outside or close to its limit, a surface that warms
    up again in the first metre below the mould are reasons to look.

    Parameters
    ----------
    verdict : mapping of str to ndarray of int, shape (strand,)
        By the name of the limit, as `solidify.assessment.finding.verdicts` has them.
    hard : collection of str
        Names of the hard limits.
    rise : ndarray, shape (strand,)
        Largest rise of the surface within the first metre below the mould [K].
    most : float
        Limit of all reheating [K].

    Returns
    -------
    dict of str to ndarray of int, shape (strand,)
        Place in `WEIGHTS` by the name of the reason; `NOT_WEIGHED` where nothing is judged.
    """
    found = {}
    for name in _WEIGHERS:
        if name in verdict:
            found[name] = _BY_VERDICT[name in hard][verdict[name]]
    total = verdict.get("reheating_total")
    if total is not None:
        weight_of_rise = np.where((rise >= SOME_RISE) & (rise > most), LOOK, NONE)
        judged = (total != NOT_JUDGED) & (total != NO_LIMIT) & ~np.isnan(rise)
        found["reheating_below_mould"] = np.where(judged, weight_of_rise, NOT_WEIGHED)
    return found


def risk_of(weights: Mapping[str, np.ndarray]) -> np.ndarray:
    """Return the word for each strand that its heaviest reason has, as its place in `WORDS`.

    Parameters
    ----------
    weights : mapping of str to ndarray of int, shape (strand,)
        From `weigh`.

    Returns
    -------
    ndarray of int, shape (strand,)
    """
    heaviest = np.maximum.reduce(list(weights.values()))
    return np.array(_BY_WEIGHT)[heaviest]


def breakout_risk(
    findings: Mapping[str, Finding],
    risk: int,
    weights: Mapping[str, int],
    flux_measured: bool,
    factor: float,
    rise_below_mould: float = math.nan,
) -> BreakoutRisk:
    """Put what was weighed into words, for one strand.

    Parameters
    ----------
    findings : mapping of str to Finding
        By name.
    risk : int
        From `risk_of`, of this strand.
    weights : mapping of str to int
        From `weigh`, of this strand.
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
    for name, tell in _WEIGHERS.items():
        if weights.get(name, NOT_WEIGHED) != NOT_WEIGHED:
            text = tell(findings[name], factor)
            reasons.append(Reason(name, WEIGHTS[weights[name]], text, _moves(name, shell)))
    weight = weights.get("reheating_below_mould", NOT_WEIGHED)
    if weight != NOT_WEIGHED:
        text = _reheating(findings["reheating_total"], rise_below_mould, weight == LOOK)
        reasons.append(Reason("reheating_below_mould", WEIGHTS[weight], text))
    if not flux_measured:
        text = "flux not measured: the shell rests on a handbook relation"
        reasons.append(Reason("mould_flux_origin", "not known", text))
    if weights.get("mould_flux_deviation", NOT_WEIGHED) == NOT_WEIGHED:
        text = "no normal mould heat flux is given: a drift of powder, taper or water cannot be seen"
        reasons.append(Reason("mould_flux_deviation", "not known", text))
    reasons.sort(key=lambda r: -WEIGHTS.index(r.weight))
    return BreakoutRisk(WORDS[risk], tuple(reasons))


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


def _reheating(total: Finding, rise: float, raised: bool) -> str:
    """Say how the surface warms up again just below the mould, against the limit of all reheating."""
    if rise < SOME_RISE:
        return "the surface does not warm up again below the mould"
    text = f"the surface warms up again by {rise:.0f} K within a metre below the mould"
    if not raised:
        return f"{text}, limit {total.bound_text}"
    return f"{text}, more than {total.bound_text}: a hot shell is weak, bulges and strains its front"


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
    text = f"hot strength {finding.value:.1f} × the ferrostatic load in tension"
    if finding.verdict == "kept":
        return text
    return f"{text}: near its solidus steel has little strength, and it tears where it is thinnest"


def _face_strength(finding: Finding, factor: float) -> str:
    text = f"flat faces carry {finding.value:.1f} × the ferrostatic load below the mould"
    return text if finding.verdict == "kept" else f"{text}: they bulge, and hot tears open along the corners"


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
    "face_strength": _face_strength,
    "mould_flux_deviation": _deviation,
    "superheat_window": _superheat,
    "dwell": _dwell,
}
