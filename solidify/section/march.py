"""The lower door of the section: a quarter or half section from numbers, with one's own steel, faces and nodes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from solidify.errors import MarchError
from solidify.section import kernel
from solidify.solver.boundary import LAW, SURFACE_ROWS, BoundaryCondition, BoundarySchedule, schedule
from solidify.solver.driver import MAX_STEPS
from solidify.solver.enthalpy_table import SteelTable
from solidify.solver.kernels import N_MECHANISMS, STATUS

__all__ = ["SectionMarch", "Side", "Strip", "march_section"]

_TOLERANCE = 1.5
"""Error of a step that is allowed, over the potential of one kelvin."""

_ACCEPT = 0.02
"""Change of the last Newton step that is allowed, over the error of a step."""

_OPEN = 1e-5
"""Heat that the equation of a cell may leave open, over the latent heat [1]."""


@dataclass(frozen=True)
class Strip:
    """What acts on a face beside its corners, in place of what acts on its middle.

    Parameters
    ----------
    faces : tuple of BoundaryCondition
        In the order of time.
    width : tuple of float
        From the corner, of each of `faces` [m]; 0 where there is no strip.
    """

    faces: tuple[BoundaryCondition, ...]
    width: tuple[float, ...]


@dataclass(frozen=True)
class Side:
    """What acts on one face of a section.

    Parameters
    ----------
    faces : tuple of BoundaryCondition
        In the order of time.
    strips : tuple of Strip
        Beside the corners; where two overlap, the later one acts. Their stretches end as those of `faces`.
    """

    faces: tuple[BoundaryCondition, ...]
    strips: tuple[Strip, ...] = ()


@dataclass(frozen=True)
class SectionMarch:
    """What the march of a section gives; sides are those of the wide face, one or two.

    Parameters
    ----------
    times : ndarray, shape (nt,)
        Ages [s].
    depth, along : ndarray, shape (nx,), (ny,)
        Nodes below the (loose-side) wide face, and from the narrow face [m].
    wide, corner : ndarray, shape (side, nt)
        Surface temperature at the middle of the wide face and at the corner [degC].
    narrow : ndarray, shape (nt,)
        Surface temperature at the middle of the narrow face [degC].
    centre, hottest : ndarray, shape (nt,)
        Temperature at the middle of the section, and of its hottest point [degC].
    wide_flux, narrow_flux : ndarray, shape (side, nt), (nt,)
        Heat flux at the mid-faces [W m-2].
    wide_shell : ndarray, shape (side, fraction, nt)
        Depth of each solid fraction under the middle of the wide face; as far as the last node where it has passed [m].
    narrow_shell : ndarray, shape (fraction, nt)
        The same under the narrow face [m].
    solid : ndarray, shape (nt,)
        Equivalent solid: integral of the solid fraction over the section, by its area [1].
    heat : ndarray, shape (face, nt)
        Heat out of the wide face, the narrow face and, of a half section, the fixed-side wide face, per metre of
        strand and of the part that was marched [J m-1].
    kept_times : ndarray, shape (np,)
        Ages at which the whole section is kept [s].
    temperature, solid_fraction : ndarray, shape (np, ny, nx)
        Over the section [degC], [1].
    booked : ndarray, shape (section, face, mechanism)
        Heat by the section of the schedule [J m-1].
    ends : ndarray, shape (section,)
        Ages at which those sections end [s].
    centre_solidified : ndarray, shape (fraction,)
        Age at which the last point passed each solid fraction [s], NaN if not by the end.
    flux_error, table_error, recount_error : float
        As in `solidify.strand.result.Balance`.
    steps, rejected, iterations, inner : int
        Steps, rejected steps, Newton iterations, and iterations of the linear equations in all.
    """

    times: np.ndarray
    depth: np.ndarray
    along: np.ndarray
    wide: np.ndarray
    corner: np.ndarray
    narrow: np.ndarray
    centre: np.ndarray
    hottest: np.ndarray
    wide_flux: np.ndarray
    narrow_flux: np.ndarray
    wide_shell: np.ndarray
    narrow_shell: np.ndarray
    solid: np.ndarray
    heat: np.ndarray
    kept_times: np.ndarray
    temperature: np.ndarray
    solid_fraction: np.ndarray
    booked: np.ndarray
    ends: np.ndarray
    centre_solidified: np.ndarray
    flux_error: float
    table_error: float
    recount_error: float
    steps: int
    rejected: int
    iterations: int
    inner: int


def march_section(
    table: SteelTable,
    wide: Side | Sequence[BoundaryCondition],
    narrow: Side | Sequence[BoundaryCondition],
    depth: np.ndarray,
    along: np.ndarray,
    *,
    initial: float,
    times: np.ndarray,
    fixed: Side | Sequence[BoundaryCondition] | None = None,
    keep: Sequence[float] | np.ndarray = (),
    step: float | None = None,
    tolerance: float = 1.0,
    solid_fractions: Sequence[float] = (0.3, 0.7, 1.0),
) -> SectionMarch:
    r"""March a quarter section, or a half section where the two wide faces differ.

    .. math:: \frac{\partial H(\varphi)}{\partial t} = \nabla^2 \varphi, \qquad \varphi = \int k \, dT,

    on depth 0 to the last of `depth` by 0 to the last of `along`, which is a plane of symmetry.

    Parameters
    ----------
    table : SteelTable
        From `solidify.solver.enthalpy_table.steel_table`.
    wide, narrow : Side or sequence of BoundaryCondition
        What acts at depth 0 and at the narrow face, in the order of time; no temperature is fixed.
    depth, along : array
        Nodes from the wide face and from the narrow face [m], rising from 0, four or more each.
    initial : float
        Temperature at the start [degC].
    times : array, shape (nt,)
        Ages at which to sample [s], rising; the march ends at the last.
    fixed : Side or sequence of BoundaryCondition, optional
        What acts at the last depth; without it that is a plane of symmetry.
    keep : sequence or array of float
        Ages at which to keep the whole section [s], rising.
    step : float, optional
        Fixed step [s], for tests of order.
    tolerance : float
        Relative to the default.
    solid_fractions : sequence of float
        Fractions whose depth is followed, rising.

    Returns
    -------
    SectionMarch

    Raises
    ------
    MarchError
        If the march does not finish; says why and when.
    ValueError
        If nodes, times or faces are not in order.
    """
    x, y = (np.ascontiguousarray(nodes, dtype=float) for nodes in (depth, along))
    for name, nodes in (("depth", x), ("along", y)):
        if nodes.ndim != 1 or len(nodes) < 4 or nodes[0] != 0 or not np.all(np.diff(nodes) > 0):
            raise ValueError(f"{name}: four or more nodes are needed that rise from 0")
    sample, kept = (np.atleast_1d(np.asarray(ages, dtype=float)) for ages in (times, keep))
    if np.any(np.diff(sample) < 0) or np.any(np.diff(kept) < 0) or sample[0] < 0:
        raise ValueError("times: must not decrease nor lie before 0")
    end = float(sample[-1])
    if len(kept) and not 0 <= kept[0] <= kept[-1] <= end:
        raise ValueError("keep: must lie between 0 and the last of times")
    sides = [side if isinstance(side, Side) else Side(tuple(side)) for side in (wide, narrow)]
    if fixed is not None:
        sides.append(fixed if isinstance(fixed, Side) else Side(tuple(fixed)))
    plan = _plan(sides, x, y, end)
    levels = np.array([table.level(f) for f in solid_fractions])
    scale = _TOLERANCE * tolerance * table.scale
    finest = min(float(np.diff(x).min()), float(np.diff(y).min()))
    controls = np.array([step or 0.0, scale, 2.0 * table.capacity * finest**2, float(MAX_STEPS), _ACCEPT])
    if step:
        controls[3] = max(MAX_STEPS, 2 * int(end / step))
    out = _Outputs.empty(len(sample), len(kept), len(levels), len(x) * len(y), len(plan.ends))
    kernel.march_section(
        x,
        y,
        len(sides),
        table.hot,
        table.cold,
        table.locator,
        np.array(
            [
                table.first,
                table.inverse,
                *table.reach,
                0.002 * table.steepest,
                *table.steep,
                *table.mushy,
                _OPEN * table.latent_heat,
            ]
        ),
        plan.ends,
        plan.laws,
        plan.share,
        *plan.rows,
        np.full(len(x) * len(y), float(table.potential(initial))),
        controls,
        levels,
        sample,
        kept,
        out.points,
        out.flux,
        out.centre,
        out.front,
        out.solid,
        out.heat,
        out.field,
        out.booked,
        out.centre_solidified,
        out.account,
    )
    return _marched(table, x, y, sample, kept, plan.ends, len(sides), out)


# What acts, laid out for the kernel


@dataclass(frozen=True)
class _Plan:
    """Laws of every face and band, section of time by section."""

    ends: np.ndarray  # (section,)
    laws: np.ndarray  # (section, face, band, 2, law)
    share: np.ndarray  # (section, face, band, nodes)
    rows: tuple[np.ndarray, ...]  # curves over surface temperature and over age


def _plan(sides: Sequence[Side], x: np.ndarray, y: np.ndarray, end: float) -> _Plan:
    """Lay the bands of all faces side by side, the middle of each face first."""
    bands = [[(side.faces, ()), *((s.faces, s.width) for s in side.strips)] for side in sides]
    plans = [[schedule(faces, end=end) for faces, _ in face] for face in bands]
    ends = np.unique(np.concatenate([plan.ends[0] for face in plans for plan in face]))
    if any(plan.ends[0, -1] < end for face in plans for plan in face):
        raise ValueError(f"times: the faces must last until the last sample at {end:g} s")
    if any(plan.laws[..., LAW["fixed"]].any() for face in plans for plan in face):
        raise ValueError("faces: no temperature can be fixed in a section; give a large coefficient")
    count = max(map(len, bands))
    laws = np.zeros((len(ends), len(sides), count, 2, len(LAW)))
    share = np.zeros((len(ends), len(sides), count, max(len(x), len(y))))
    surface, time = _Gathered(), _Gathered()
    for f, (face, face_plans) in enumerate(zip(bands, plans, strict=True)):
        nodes = x if f == 1 else y
        for b, plan in enumerate(face_plans):
            own = plan.laws[0, :, 0].copy()
            first = surface.add(plan.surface_rows, plan.surface_starts, plan.surface_inverses)
            begin = time.add(plan.time_rows, plan.time_starts, plan.time_inverses)
            for column, shift in [*((name, first) for name in SURFACE_ROWS), ("time_row", begin)]:
                rows = own[..., LAW[column]]
                rows[rows >= 0] += shift
            laws[:, f, b] = own[plan.ends[0].searchsorted(ends)]
        _share(share[:, f], face, face_plans, ends, nodes, two=f == 1 and len(sides) == 3)
    return _Plan(ends, laws, share, (*surface.arrays(), *time.arrays()))


def _share(
    share: np.ndarray,
    face: Sequence[tuple[Sequence[BoundaryCondition], Sequence[float]]],
    plans: Sequence[BoundarySchedule],
    ends: np.ndarray,
    nodes: np.ndarray,
    two: bool,
) -> None:
    """Fill in which part of the surface of each node a band takes, (section, band, nodes).

    `two`: there is a corner at both ends.
    """
    middle = 0.5 * (nodes[1:] + nodes[:-1])
    low, high = np.append(nodes[0], middle), np.append(middle, nodes[-1])
    n, length = len(nodes), high - low

    def covered(width: float) -> np.ndarray:
        """Share of each node's surface within `width` of a corner [1]."""
        near = np.clip(width - low, 0.0, length)
        far = np.clip(high - (nodes[-1] - width), 0.0, length) if two else 0.0
        return np.minimum((near + far) / length, 1.0)

    for s, end in enumerate(ends):
        widest, taken = 0.0, np.zeros(n)
        for b in range(len(face) - 1, 0, -1):
            faces, width = face[b]
            # stretches of the strip, in the order of its schedule
            stretch = int(np.searchsorted([float(f.end) for f in faces], end * (1 - 1e-12)))
            own = float(width[min(stretch, len(width) - 1)])
            if own > widest:
                widest = own
                share[s, b, :n] = covered(own) - taken
                taken = covered(own)
        share[s, 0, :n] = 1.0 - taken


class _Gathered:
    """Rows of several schedules behind one another."""

    def __init__(self) -> None:
        self.blocks: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
        self.count = 0

    def add(self, rows: np.ndarray, starts: np.ndarray, inverses: np.ndarray) -> int:
        """Take rows in and return the number of the first."""
        self.blocks.append((rows, starts, inverses))
        self.count += len(rows)
        return self.count - len(rows)

    def arrays(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Rows of one length, first values and points per unit."""
        points = max(rows.shape[1] for rows, _, _ in self.blocks)
        padded = [np.pad(r, ((0, 0), (0, points - r.shape[1])), mode="edge") for r, _, _ in self.blocks]
        return (
            np.concatenate(padded),
            np.concatenate([s for _, s, _ in self.blocks]),
            np.concatenate([i for _, _, i in self.blocks]),
        )


# What comes back


@dataclass(frozen=True)
class _Outputs:
    """Arrays that the kernel fills."""

    points: np.ndarray
    flux: np.ndarray
    centre: np.ndarray
    front: np.ndarray
    solid: np.ndarray
    heat: np.ndarray
    field: np.ndarray
    booked: np.ndarray
    centre_solidified: np.ndarray
    account: np.ndarray

    @classmethod
    def empty(cls, samples: int, kept: int, levels: int, nodes: int, sections: int) -> _Outputs:
        """Make room for them."""
        return cls(
            np.full((kernel.N_POINTS, samples), np.nan),
            np.full((3, samples), np.nan),
            np.full((2, samples), np.nan),
            np.full((3, levels, samples), np.nan),
            np.full(samples, np.nan),
            np.full((3, samples), np.nan),
            np.full((kept + 1, nodes), np.nan),
            np.zeros((sections, 3, N_MECHANISMS)),
            np.full(levels, -1.0),
            np.zeros(kernel.ACCOUNT),
        )


def _marched(
    table: SteelTable,
    x: np.ndarray,
    y: np.ndarray,
    times: np.ndarray,
    kept: np.ndarray,
    ends: np.ndarray,
    faces: int,
    out: _Outputs,
) -> SectionMarch:
    """Turn what the kernel gave into temperatures, or say why it did not finish."""
    account = out.account
    if account[0]:
        low, high = table.temperature(np.array([out.field[-1].min(), out.field[-1].max()]))
        raise MarchError(
            f"the march of the section stopped at {account[1]:.4g} s: {STATUS[int(account[0])]}; "
            f"the section then was at {low:.0f} to {high:.0f} °C"
        )
    rows = [0] if faces == 2 else [0, 2]
    heat = float(account[9:12].sum())
    norm = max(float(np.abs(out.booked).sum()), abs(heat), 1e-300)
    temperature, solid = table.state(out.field[:-1].reshape(len(kept), len(y), len(x)))
    points = table.temperature(out.points)
    return SectionMarch(
        times=times,
        depth=x,
        along=y,
        wide=points[[0] if faces == 2 else [0, 2]],
        corner=points[[3] if faces == 2 else [3, 4]],
        narrow=points[1],
        centre=table.temperature(out.centre[1]),
        hottest=table.temperature(out.centre[0]),
        wide_flux=out.flux[rows],
        narrow_flux=out.flux[1],
        wide_shell=out.front[rows],
        narrow_shell=out.front[1],
        solid=out.solid / (x[-1] * y[-1]),
        heat=out.heat[:faces],
        kept_times=kept,
        temperature=temperature,
        solid_fraction=solid,
        booked=out.booked[:, :faces],
        ends=ends,
        centre_solidified=np.where(out.centre_solidified < 0, np.nan, out.centre_solidified),
        flux_error=float(abs(account[7] - heat) / norm),
        table_error=float(account[6] / table.latent_heat),
        recount_error=float(abs(account[8] - heat) / norm),
        steps=int(account[2]),
        rejected=int(account[3]),
        iterations=int(account[4]),
        inner=int(account[5]),
    )
