"""The march itself: compiled loops on plain arrays, nothing else.

Enthalpy finite differences in the conduction potential phi = integral of k dT [W/m]. Conduction is linear in
phi
whatever the conductivity does; the enthalpy per volume is one piecewise linear table H(phi), and the
enthalpy of a
cell is the exact mean of H over its two half cells with phi linear between nodes. Time goes by TR-BDF2 (M.E.
Hosea and
L.F. Shampine, Appl. Numer. Math. 20 (1996) 21-37; formulae from memory, order checked in the tests) with its
embedded
error estimate, Newton with the true surface derivative, and an enthalpy update by the fluxes, so that heat
lost equals
heat removed to round-off.

A row of surface laws has the columns of `solidify.schedule.LAW`; time is counted from the birth of the slice.

Nothing here validates, allocates per step, raises or knows what a strand is; `solidify.marching` does that.
A batch is
many strands whose arrays lie end to end, with offsets. Every function that another one calls lives in this
file,
because a compiled cache does not notice a change in another file.
"""

from __future__ import annotations

import math
import os

import numpy as np
from numba import njit

__all__ = ["N_MECHANISMS", "N_WORK", "STATUS", "march_batch"]

STATUS = {
    0: "finished",
    1: "the step became too small: the equations could not be solved there",
    2: "more steps were needed than are allowed",
    3: "the temperature left the range of the steel table",
    4: "a value was not finite",
}
"""Status code of a march and its sentence."""

N_MECHANISMS = 6
"""Mechanisms that are counted apart; their order is `solidify.result.MECHANISMS`."""

MAX_ITERATIONS = 20
"""Newton iterations before a stage counts as failed."""

N_WORK = 25
"""Rows of work space, each as long as the largest number of nodes, and at least `LEAST_WORK`."""

LEAST_WORK = 64
"""Least length of a row of work space: one row holds the small sums of a march."""

_SIGMA = 5.670374419e-8
_KELVIN = 273.15
_GAMMA = 2.0 - math.sqrt(2.0)
_HALF = 0.5 * _GAMMA  # coefficient of the implicit term in both stages
_W = math.sqrt(2.0) / 4.0  # weight of the first two stages in the step
_B2 = 1.0 / (_GAMMA * (2.0 - _GAMMA))  # stage two: B = _B2 E_gamma - _B1 E_n
_B1 = (1.0 - _GAMMA) ** 2 * _B2
_E0 = _W - (1.0 - _W) / 3.0  # step weights minus third-order weights
_E1 = _W - (3.0 * _W + 1.0) / 3.0
_E2 = _HALF - _HALF / 3.0

_FIRST = 1.0 / _GAMMA  # of the parabola through the stages at 0, gamma, 1
_SECOND = 1.0 / (_GAMMA * (_GAMMA - 1.0))
_THIRD = 1.0 / (1.0 - _GAMMA)

# "_nrt" off: nothing is allocated here, and counting references to arrays would take a quarter of the time
_OPTIONS: dict = {"nogil": True, "_nrt": False, "error_model": "numpy", "fastmath": {"contract"}}


def _compiled(function, **more):
    """Compile with a cache on disk; without one where no folder can be written."""
    try:
        return njit(cache=True, **_OPTIONS, **more)(function)
    except RuntimeError:
        os.environ.setdefault("SOLIDIFY_NO_CACHE", "1")
        return njit(**_OPTIONS, **more)(function)


def _inlined(function):
    """Compile into the callers.

    A callee left standing may, in the process that compiles, be bound to a copy that was optimised apart and
    rounds otherwise than the one in the cache: the first run on a machine then differs in the last bit.
    """
    return _compiled(function, forceinline=True)


@_inlined
def _find(phi, hot, locator, first, inverse):
    """Bin of the table that holds phi; the end bins extend for ever."""
    last = locator.shape[0] - 1
    x = (phi - first) * inverse
    cell = 0 if not x > 0.0 else (last if x >= last else int(x))
    b = np.int64(np.uint32(locator[cell]))
    while phi >= hot[b + 1, 0]:
        b += 1
    return b


@_inlined
def _read_row(x, row, starts, inverses, rows):
    """Linear interpolation in a uniform row, flat outside; value and slope."""
    u = (x - starts[row]) * inverses[row]
    n = rows.shape[1]
    if not u > 0.0:
        return rows[row, 0], 0.0
    if u >= n - 1:
        return rows[row, n - 1], 0.0
    i = int(u)
    d = rows[row, i + 1] - rows[row, i]
    return rows[row, i] + (u - i) * d, d * inverses[row]


@_inlined
def _prescribed(t, law, t_rows, t_starts, t_inverses):
    """Prescribed flux [W m-2] or fixed temperature [degC] of a face at the age t."""
    q = law[1]
    if law[2] != 0.0 or law[3] != 0.0:
        root = math.sqrt(max(t, 1e-12))
        q += law[2] * root + law[3] / root
    q = min(max(q, law[4]), law[5])
    if law[6] >= 0.0:
        q += _read_row(t, int(law[6]), t_starts, t_inverses, t_rows)[0]
    return q


@_inlined
def _surface(t, temp, law, s_rows, s_starts, s_inverses, t_rows, t_starts, t_inverses, part):
    """Flux out of a face [W m-2], its derivative by surface temperature, and its parts by mechanism."""
    for m in range(part.shape[0]):
        part[m] = 0.0
    q = _prescribed(t, law, t_rows, t_starts, t_inverses)
    part[int(law[7])] = q
    slope = 0.0
    if law[8] != 0.0:
        h = law[8]
        dh = 0.0
        if law[9] >= 0.0:
            value, d = _read_row(temp, int(law[9]), s_starts, s_inverses, s_rows)
            dh = h * d
            h *= value
        part[1] += h * (temp - law[10])
        slope += h + dh * (temp - law[10])
    if law[11] != 0.0:
        e = law[11]
        de = 0.0
        if law[12] >= 0.0:
            value, d = _read_row(temp, int(law[12]), s_starts, s_inverses, s_rows)
            de = e * d
            e *= value
        k = temp + _KELVIN
        a = law[13] + _KELVIN
        lift = k * k * k * k - a * a * a * a
        part[2] += e * _SIGMA * lift
        slope += _SIGMA * (4.0 * e * k * k * k + de * lift)
    part[3] += law[14] * (temp - law[13])
    slope += law[14]
    share = law[16] / (1.0 - law[16])
    roll = law[15]
    d_roll = 0.0
    if law[17] >= 0.0:
        value, d = _read_row(temp, int(law[17]), s_starts, s_inverses, s_rows)
        d_roll = roll * d
        roll *= value
    part[4] += roll * (temp - law[13]) + share * (part[1] + part[2] + part[3])
    slope += roll + d_roll * (temp - law[13]) + share * slope
    total = 0.0
    for m in range(part.shape[0]):
        total += part[m]
    return total, slope


@_inlined
def _enthalpy(phi, n, curved, weights, hot, locator, first, inverse, energy, lower, diagonal, upper):
    """Enthalpy of every cell and its derivatives by the three nodes it depends on.

    weights[0:2] belong to the half cell right of node i (owned by i), weights[2:4] to the half cell left of node
    i + 1 (owned by i + 1): enthalpy = w0 mean(H) + w1 mean(s H), with s from 0 to 1 along the half cell.

    Between nodes at most one bin apart, t from 0 to 1, H = ha + sa D t + kink D (t - te) beyond the edge at te; with
    p = max(1/2 - te, 0) and q = 1 - te all means and derivatives are polynomials in p and q, and nothing cancels.
    """
    pa = phi[0]
    ia = _find(pa, hot, locator, first, inverse)
    sa = hot[ia, 2]
    ha = hot[ia, 1] + sa * (pa - hot[ia, 0])
    own = 0.0
    own_d = 0.0
    for i in range(n - 1):
        pb = phi[i + 1]
        ib = _find(pb, hot, locator, first, inverse)
        sb = hot[ib, 2]
        hb = hot[ib, 1] + sb * (pb - hot[ib, 0])
        d = pb - pa
        w0 = weights[0, i]
        v0 = weights[2, i]
        if abs(ib - ia) <= 1:
            kink = sb - sa
            q = (pb - hot[max(ia, ib), 0]) / d if ia != ib else 0.0
            p = max(q - 0.5, 0.0)
            q2 = q * q
            p2 = p * p
            rise = kink * d
            e_left = w0 * (ha + 0.25 * sa * d + rise * p2)
            e_right = v0 * (ha + 0.75 * sa * d + rise * (q2 - p2))
            d_la = w0 * (0.75 * sa + kink * (p + p2))
            d_lb = w0 * (0.25 * sa + kink * (p - p2))
            d_ra = v0 * (0.25 * sa + kink * (q2 - p - p2))
            d_rb = v0 * (0.75 * sa + kink * (2.0 * q - q2 - p + p2))
            if curved:
                w1 = weights[1, i]
                v1 = weights[3, i]
                q3 = q2 * q * (2.0 / 3.0)
                p3 = p2 * p * (2.0 / 3.0)
                e_left += w1 * (0.5 * ha + sa * d * (1.0 / 6.0) + rise * (p2 - p3))
                e_right += v1 * (0.5 * ha + sa * d * (5.0 / 12.0) + rise * (q2 - q3 + p3))
                d_la += w1 * (sa * (1.0 / 3.0) + kink * (p - 2.0 * p3))
                d_lb += w1 * (sa * (1.0 / 6.0) + kink * (p - 2.0 * p2 + 2.0 * p3))
                d_ra += v1 * (sa * (1.0 / 12.0) + kink * (q2 - 2.0 * q3 + p2 + 2.0 * p3))
                d_rb += v1 * (sa * (5.0 / 12.0) + kink * (2.0 * q - 3.0 * q2 + 2.0 * q3 + p2 - 2.0 * p3))
        else:
            x = pa - hot[ia, 0]
            ga = hot[ia, 3] + x * (hot[ia, 1] + 0.5 * sa * x)
            x = pb - hot[ib, 0]
            gb = hot[ib, 3] + x * (hot[ib, 1] + 0.5 * sb * x)
            pm = 0.5 * (pa + pb)
            im = _find(pm, hot, locator, first, inverse)
            x = pm - hot[im, 0]
            sm = hot[im, 2]
            hm = hot[im, 1] + sm * x
            gm = hot[im, 3] + x * (hot[im, 1] + 0.5 * sm * x)
            r = 2.0 / d
            left = (gm - ga) * r
            right = (gb - gm) * r
            e_left = w0 * left
            e_right = v0 * right
            d_la = w0 * (0.5 * (hm + left) - ha) * r
            d_lb = w0 * 0.5 * (hm - left) * r
            d_ra = v0 * 0.5 * (right - hm) * r
            d_rb = v0 * (hb - 0.5 * (hm + right)) * r
            if curved:
                w1 = weights[1, i]
                v1 = weights[3, i]
                km = hot[im, 4] + x * (hot[im, 3] + x * (0.5 * hot[im, 1] + sm * x * (1.0 / 6.0)))
                x = pa - hot[ia, 0]
                ka = hot[ia, 4] + x * (hot[ia, 3] + x * (0.5 * hot[ia, 1] + sa * x * (1.0 / 6.0)))
                x = pb - hot[ib, 0]
                kb = hot[ib, 4] + x * (hot[ib, 3] + x * (0.5 * hot[ib, 1] + sb * x * (1.0 / 6.0)))
                fl = (gm - (km - ka) * r) * r
                fr = (gb - (kb - km) * r) * r
                flb = 0.5 * (hm - 2.0 * fl) * r
                fra = 0.5 * (2.0 * fr - right) * r
                e_left += w1 * fl
                e_right += v1 * fr
                d_la += w1 * ((2.0 * fl - left) * r + flb)
                d_lb += w1 * flb
                d_ra += v1 * fra
                d_rb += v1 * (fra + (hb - 2.0 * fr) * r)
        energy[i] = own + e_left
        diagonal[i] = own_d + d_la
        upper[i] = d_lb
        lower[i + 1] = d_ra
        own = e_right
        own_d = d_rb
        pa = pb
        ia = ib
        sa = sb
        ha = hb
    energy[n - 1] = own
    diagonal[n - 1] = own_d


@_inlined
def _eliminate(n, lower, diagonal, upper, factor, change):
    """Factor a tridiagonal matrix from both ends at once, two chains side by side, and solve for `change`.

    Afterwards `diagonal` holds inverse pivots and `factor` the multipliers, for `_substitute`.
    """
    m = n // 2
    last = n - 1
    top = 1.0 / diagonal[0]
    low = 1.0 / diagonal[last]
    y = change[0] * top
    z = change[last] * low
    f = upper[0] * top
    g = lower[last] * low
    diagonal[0] = top
    diagonal[last] = low
    change[0] = y
    change[last] = z
    factor[0] = f
    factor[last] = g
    for i in range(1, m):
        j = last - i
        if j > m:
            low = 1.0 / (diagonal[j] - upper[j] * g)
            z = (change[j] - upper[j] * z) * low
            g = lower[j] * low
            diagonal[j] = low
            change[j] = z
            factor[j] = g
        top = 1.0 / (diagonal[i] - lower[i] * f)
        y = (change[i] - lower[i] * y) * top
        f = upper[i] * top
        diagonal[i] = top
        change[i] = y
        factor[i] = f
    diagonal[m] = 1.0 / (diagonal[m] - lower[m] * f - upper[m] * g)
    y = (change[m] - lower[m] * y - upper[m] * z) * diagonal[m]
    change[m] = y
    z = y
    above = abs(y)
    below = above
    for i in range(m - 1, -1, -1):
        y = change[i] - factor[i] * y
        change[i] = y
        above = max(above, abs(y))
        j = 2 * m - i
        if j <= last:
            z = change[j] - factor[j] * z
            change[j] = z
            below = max(below, abs(z))
    return max(above, below)


@_inlined
def _substitute(n, lower, diagonal, upper, factor, change):
    """Solve once more with the factors that `_eliminate` left."""
    m = n // 2
    last = n - 1
    y = change[0] * diagonal[0]
    z = change[last] * diagonal[last]
    change[0] = y
    change[last] = z
    for i in range(1, m):
        j = last - i
        if j > m:
            z = (change[j] - upper[j] * z) * diagonal[j]
            change[j] = z
        y = (change[i] - lower[i] * y) * diagonal[i]
        change[i] = y
    y = (change[m] - lower[m] * y - upper[m] * z) * diagonal[m]
    change[m] = y
    z = y
    above = abs(y)
    below = above
    for i in range(m - 1, -1, -1):
        y = change[i] - factor[i] * y
        change[i] = y
        above = max(above, abs(y))
        j = 2 * m - i
        if j <= last:
            z = change[j] - factor[j] * z
            change[j] = z
            below = max(below, abs(z))
    return max(above, below)


@_inlined
def _solid(phi, n, peak, depth, hot, cold, locator, first, inverse, solidus, liquidus):
    """Integral of the solid fraction over depth [m], from the first face to node `peak` and from there on."""
    near = 0.0
    far = 0.0
    known = -1
    fa = 0.0
    ga = 0.0
    ia = 0
    for i in range(n - 1):
        pa = phi[i]
        pb = phi[i + 1]
        if max(pa, pb) <= solidus:
            mean = 1.0
        elif min(pa, pb) >= liquidus:
            mean = 0.0
        else:
            if known != i:
                ia = _find(pa, hot, locator, first, inverse)
                x = pa - hot[ia, 0]
                fa = cold[ia, 2] + cold[ia, 3] * x
                ga = cold[ia, 4] + x * (cold[ia, 2] + 0.5 * cold[ia, 3] * x)
            ib = _find(pb, hot, locator, first, inverse)
            x = pb - hot[ib, 0]
            fb = cold[ib, 2] + cold[ib, 3] * x
            gb = cold[ib, 4] + x * (cold[ib, 2] + 0.5 * cold[ib, 3] * x)
            d = pb - pa
            mean = 0.5 * (fa + fb) if ia == ib or abs(d) < 1e-9 * (abs(pa) + abs(d)) else (gb - ga) / d
            fa = fb
            ga = gb
            ia = ib
            known = i + 1
        piece = mean * (depth[i + 1] - depth[i])
        if i < peak:
            near += piece
        else:
            far += piece
    return near, far


@_inlined
def _blend(theta):
    """Weights of the three stages of a step (0, gamma, 1) in the parabola through them."""
    a = (theta - _GAMMA) * (theta - 1.0) * _FIRST
    b = theta * (theta - 1.0) * _SECOND
    return a, b, theta * (theta - _GAMMA) * _THIRD


@_inlined
def _within(a, b, c, x, y, z):
    """Value of the parabola through three stages, kept between them: where heat moves fast it would leave them."""
    return min(max(a * x + b * y + c * z, min(x, y, z)), max(x, y, z))


@_inlined
def _front(p0, pg, p1, a, b, c, n, depth, gap, span, level, backward, place):
    """Depth from a face where phi passes `level`, and the node before it; the whole depth when it nowhere does.

    The search starts at `place`, the node on the solid side last time, since a front moves little. Between the nodes
    phi is the line bent by the mean curvature of the neighbours on both sides; gap = 1 / (x[i+1] - x[i]) and
    span = 1 / (x[i+1] - x[i-1]) of the nodes.
    """
    step = -1 if backward else 1
    first = n - 1 if backward else 0
    beyond = -1 if backward else n
    i = place
    here = _within(a, b, c, p0[i], pg[i], p1[i])
    while here > level:
        if i == first:
            return 0.0, i
        i -= step
        here = _within(a, b, c, p0[i], pg[i], p1[i])
    there = here
    j = i + step
    while j != beyond:
        there = _within(a, b, c, p0[j], pg[j], p1[j])
        if there > level:
            break
        here = there
        i = j
        j += step
    if j == beyond:
        return abs(depth[n - 1] - depth[0]), i
    h = abs(depth[j] - depth[i])
    rise = there - here
    bend = 0.0  # here + rise u + bend u (u - 1)
    sides = 0.0
    if i != first:
        k = i - step
        before = _within(a, b, c, p0[k], pg[k], p1[k])
        bend += (rise - (here - before) * (h * gap[min(i, k)])) * (h * span[i])
        sides += 1.0
    if j + step != beyond:
        k = j + step
        after = _within(a, b, c, p0[k], pg[k], p1[k])
        bend += ((after - there) * (h * gap[min(j, k)]) - rise) * (h * span[j])
        sides += 1.0
    if sides == 2.0:
        bend *= 0.5
    bend = min(max(bend, -0.5 * rise), 0.5 * rise)  # so that phi rises all the way
    left = level - here
    linear = rise - bend
    u = min(2.0 * left / (linear + math.sqrt(max(linear * linear + 4.0 * bend * left, 0.0))), 1.0)
    return abs(depth[i] + u * (depth[j] - depth[i]) - depth[first]), i


@_inlined
def _march_one(
    n,
    depth,
    conductance,
    weights,
    curved,
    areas,
    hot,
    cold,
    locator,
    table,
    ends,
    laws,
    s_rows,
    s_starts,
    s_inverses,
    t_rows,
    t_starts,
    t_inverses,
    source,
    source_start,
    source_inverse,
    initial,
    start,
    fixed_step,
    tolerance,
    first_step,
    max_steps,
    levels,
    times,
    surface_out,
    flux_out,
    heat_out,
    shell_out,
    solid_out,
    centre_out,
    profile_times,
    profile_out,
    booked,
    closure,
    account,
    work,
):
    """March one slice; see `march_batch` for the arrays."""
    table_first = table[0]
    table_inverse = table[1]
    solidus = table[7]
    liquidus = table[8]
    accept = min(0.08 * tolerance, table[4])
    steep_low = table[5]  # a node that would jump over the steepest freezing stops in it
    steep_high = table[6]
    p0 = work[0]
    pg = work[1]
    p1 = work[2]
    old0 = work[3]
    oldg = work[4]
    e0 = work[5]
    eg = work[6]
    base = work[7]
    r0 = work[8]
    rg = work[9]
    r1 = work[10]
    lower = work[11]
    diagonal = work[12]
    upper = work[13]
    change = work[14]
    factor = work[15]
    energy = work[16]
    sources = work[17]
    spare0 = work[18]
    spare1 = work[19]
    spare2 = work[20]
    small = work[21]
    scratch = small[0:N_MECHANISMS]
    parts = small[6:42].reshape((3, 2, N_MECHANISMS))
    q = small[42:48].reshape((3, 2))
    heat = small[48:50]
    heat_new = small[50:52]
    solid = small[52:58].reshape((3, 2))
    small[:58] = 0.0
    gap = work[23]
    span = work[24]
    gap[0] = 1.0 / (depth[1] - depth[0])
    for i in range(1, n - 1):
        gap[i] = 1.0 / (depth[i + 1] - depth[i])
        span[i] = 1.0 / (depth[i + 1] - depth[i - 1])
    has_source = source.shape[0] > 1
    n_sides = surface_out.shape[0]
    n_levels = levels.shape[0]
    last = n - 1
    place = work[22][: 2 * n_levels].reshape((2, n_levels))
    place[0, :] = 0.0
    place[1, :] = last
    for i in range(n):
        p0[i] = initial[i]
        old0[i] = p0[i]
        oldg[i] = p0[i]
    if laws[0, 0, 0] > 0.0 or laws[0, 1, 0] > 0.0:
        # a face held at another temperature than the slice starts with gives up the difference at once
        for side in range(2):
            if laws[0, side, 0] > 0.0:
                _enthalpy(
                    p0,
                    n,
                    curved,
                    weights,
                    hot,
                    locator,
                    table_first,
                    table_inverse,
                    e0,
                    lower,
                    diagonal,
                    upper,
                )
                for i in range(n):
                    heat[side] += e0[i]
                p0[0 if side == 0 else last] = _prescribed(start, laws[0, side], t_rows, t_starts, t_inverses)
                _enthalpy(
                    p0,
                    n,
                    curved,
                    weights,
                    hot,
                    locator,
                    table_first,
                    table_inverse,
                    e0,
                    lower,
                    diagonal,
                    upper,
                )
                for i in range(n):
                    heat[side] -= e0[i]
                booked[0, side, int(laws[0, side, 7])] += heat[side]
        for i in range(n):
            old0[i] = p0[i]
            oldg[i] = p0[i]
    _enthalpy(p0, n, curved, weights, hot, locator, table_first, table_inverse, e0, lower, diagonal, upper)
    t = start
    steps = 0
    rejected = 0
    iterations = 0
    since_check = 0
    worst_table = 0.0
    least_volume = 0.0  # a tenth of the mean: the last cell of a round has next to none
    for i in range(last):
        for k in range(4):
            least_volume += (0.1 if k % 2 == 0 else 0.05) * weights[k, i] / n
    old_step = 0.0
    i_time = 0
    i_profile = 0
    n_times = times.shape[0]
    n_profiles = profile_times.shape[0]
    dt_next = first_step
    peak = last
    solid[0, 0], solid[0, 1] = _solid(
        p0, n, peak, depth, hot, cold, locator, table_first, table_inverse, solidus, liquidus
    )
    status = 0
    for section in range(ends.shape[0]):
        end = ends[section]
        if not end > t:
            continue
        # the surface is the same on both sides of a zone border, its flux is not
        for side in range(2):
            i = 0 if side == 0 else last
            law = laws[section, side]
            if law[0] > 0.0:
                j = 0 if side == 0 else last - 1
                q[0, side] = conductance[j] * abs(p0[j + 1] - p0[j]) / areas[side]
                if (p0[j + 1] - p0[j] < 0.0) == (side == 0):
                    q[0, side] = -q[0, side]
                parts[0, side, :] = 0.0
                parts[0, side, int(law[7])] = q[0, side]
            else:
                b = _find(p0[i], hot, locator, table_first, table_inverse)
                temp = cold[b, 0] + cold[b, 1] * (p0[i] - hot[b, 0])
                q[0, side], _slope = _surface(
                    t, temp, law, s_rows, s_starts, s_inverses, t_rows, t_starts, t_inverses, parts[0, side]
                )
        for i in range(n):
            r0[i] = 0.0
        if has_source:
            for i in range(n):
                u = (t - source_start) * source_inverse
                k = min(max(int(u), 0), source.shape[0] - 2)
                r0[i] = source[k, i] + (u - k) * (source[k + 1, i] - source[k, i])
        for i in range(n - 1):
            f = conductance[i] * (p0[i + 1] - p0[i])
            r0[i] += f
            r0[i + 1] -= f
        r0[0] -= areas[0] * q[0, 0]
        r0[last] -= areas[1] * q[0, 1]
        if section > 0 or t > start:
            dt_next = min(dt_next, 10.0 * first_step)
        order = 0  # of the polynomial through earlier stages that predicts the next
        begun = False
        while t < end:
            left = end - t
            dt = fixed_step if fixed_step > 0.0 else dt_next
            if dt >= left * (1.0 - 1e-9):
                dt = left
            elif dt > 0.5 * left and fixed_step <= 0.0:
                dt = 0.5 * left
            if steps + rejected >= max_steps:
                status = 2
                break
            c = _HALF * dt
            failed = False
            for stage in range(1, 3):
                phi = pg if stage == 1 else p1
                rate = rg if stage == 1 else r1
                when = t + _GAMMA * dt if stage == 1 else t + dt
                if stage == 2 and dt == left:
                    when = end
                if stage == 1:
                    if order == 2:
                        # parabola through the three stages of the step before, prolonged
                        theta = 1.0 + _GAMMA * dt / old_step
                        a, b_, c_ = _blend(theta)
                        for i in range(n):
                            phi[i] = a * old0[i] + b_ * oldg[i] + c_ * p0[i]
                    elif order == 1:
                        a = _GAMMA * dt / old_step
                        for i in range(n):
                            phi[i] = p0[i] + a * (p0[i] - old0[i])
                    else:
                        for i in range(n):
                            phi[i] = p0[i]
                    for i in range(n):
                        base[i] = e0[i] + c * r0[i]
                else:
                    if order == 2:
                        # parabola through the start of the step before, this start and this middle
                        x0 = -old_step
                        x2 = _GAMMA * dt
                        a = (dt * (dt - x2)) / (x0 * (x0 - x2))
                        b_ = ((dt - x0) * (dt - x2)) / (-x0 * -x2)
                        c_ = ((dt - x0) * dt) / ((x2 - x0) * x2)
                        for i in range(n):
                            phi[i] = a * old0[i] + b_ * p0[i] + c_ * pg[i]
                    else:
                        for i in range(n):
                            phi[i] = p0[i] + (pg[i] - p0[i]) / _GAMMA
                    for i in range(n):
                        base[i] = _B2 * eg[i] - _B1 * e0[i]
                if has_source:
                    u = (when - source_start) * source_inverse
                    k = min(max(int(u), 0), source.shape[0] - 2)
                    for i in range(n):
                        sources[i] = source[k, i] + (u - k) * (source[k + 1, i] - source[k, i])
                done = False
                for _ in range(MAX_ITERATIONS):
                    iterations += 1
                    _enthalpy(
                        phi,
                        n,
                        curved,
                        weights,
                        hot,
                        locator,
                        table_first,
                        table_inverse,
                        energy,
                        lower,
                        diagonal,
                        upper,
                    )
                    # residual and tridiagonal matrix, conduction added on the way
                    change[0] = base[0] - energy[0] + c * conductance[0] * (phi[1] - phi[0])
                    diagonal[0] += c * conductance[0]
                    for i in range(1, last):
                        f = conductance[i] * (phi[i + 1] - phi[i]) - conductance[i - 1] * (
                            phi[i] - phi[i - 1]
                        )
                        change[i] = base[i] - energy[i] + c * f
                    for i in range(1, last):
                        diagonal[i] += c * (conductance[i] + conductance[i - 1])
                    for i in range(last):
                        upper[i] -= c * conductance[i]
                        lower[i + 1] -= c * conductance[i]
                    change[last] = (
                        base[last] - energy[last] - c * conductance[last - 1] * (phi[last] - phi[last - 1])
                    )
                    diagonal[last] += c * conductance[last - 1]
                    if has_source:
                        for i in range(n):
                            change[i] += c * sources[i]
                    for side in range(2):
                        i = 0 if side == 0 else last
                        law = laws[section, side]
                        if law[0] > 0.0:
                            target = _prescribed(when, law, t_rows, t_starts, t_inverses)
                            change[i] = target - phi[i]
                            diagonal[i] = 1.0
                            if side == 0:
                                upper[i] = 0.0
                            else:
                                lower[i] = 0.0
                        else:
                            b = _find(phi[i], hot, locator, table_first, table_inverse)
                            temp = cold[b, 0] + cold[b, 1] * (phi[i] - hot[b, 0])
                            flux, slope = _surface(
                                when,
                                temp,
                                law,
                                s_rows,
                                s_starts,
                                s_inverses,
                                t_rows,
                                t_starts,
                                t_inverses,
                                parts[stage, side],
                            )
                            change[i] -= c * areas[side] * flux
                            diagonal[i] += c * areas[side] * slope * cold[b, 1]
                    # solve; the factors stay for the error estimate
                    largest = _eliminate(n, lower, diagonal, upper, factor, change)
                    for i in range(n):
                        before = phi[i]
                        after = before + change[i]
                        if (before < steep_low and after > steep_high) or (
                            before > steep_high and after < steep_low
                        ):
                            after = 0.5 * (steep_low + steep_high)  # seen from afar the latent heat is a step
                        phi[i] = after
                    if not largest < 1e300:
                        break
                    if largest <= accept:
                        done = True
                        break
                if not done:
                    failed = True
                    break
                # rates at the accepted potentials, and the enthalpy they give
                rate[0] = conductance[0] * (phi[1] - phi[0])
                for i in range(1, last):
                    rate[i] = conductance[i] * (phi[i + 1] - phi[i]) - conductance[i - 1] * (
                        phi[i] - phi[i - 1]
                    )
                rate[last] = -conductance[last - 1] * (phi[last] - phi[last - 1])
                if has_source:
                    for i in range(n):
                        rate[i] += sources[i]
                for side in range(2):
                    i = 0 if side == 0 else last
                    law = laws[section, side]
                    if law[0] > 0.0:
                        # what must leave so that the first cell has the enthalpy of the fixed temperature
                        _enthalpy(
                            phi,
                            n,
                            curved,
                            weights,
                            hot,
                            locator,
                            table_first,
                            table_inverse,
                            energy,
                            spare0,
                            spare1,
                            spare2,
                        )
                        flux = (rate[i] - (energy[i] - base[i]) / c) / areas[side]
                        q[stage, side] = flux
                        parts[stage, side, :] = 0.0
                        parts[stage, side, int(law[7])] = flux
                    else:
                        b = _find(phi[i], hot, locator, table_first, table_inverse)
                        temp = cold[b, 0] + cold[b, 1] * (phi[i] - hot[b, 0])
                        q[stage, side], slope = _surface(
                            when,
                            temp,
                            law,
                            s_rows,
                            s_starts,
                            s_inverses,
                            t_rows,
                            t_starts,
                            t_inverses,
                            parts[stage, side],
                        )
                    rate[i] -= areas[side] * q[stage, side]
                if stage == 1:
                    for i in range(n):
                        eg[i] = base[i] + c * rate[i]
            error = 0.0
            if not failed and fixed_step <= 0.0:
                # embedded estimate, damped by the last matrix
                for i in range(n):
                    change[i] = dt * (_E0 * r0[i] + _E1 * rg[i] + _E2 * r1[i])
                if laws[section, 0, 0] > 0.0:
                    change[0] = 0.0
                if laws[section, 1, 0] > 0.0:
                    change[last] = 0.0
                error = _substitute(n, lower, diagonal, upper, factor, change) / tolerance
            if failed or error > 1.0:
                rejected += 1
                if fixed_step > 0.0:
                    status = 1
                    break
                dt_next = 0.25 * dt if failed else dt * max(0.2, 0.75 * error ** (-1.0 / 3.0))
                if dt_next < 1e-9 * max(first_step, 1e-9 * end) or dt_next < 4e-16 * t:
                    status = 1
                    break
                continue
            # accepted: book the heat, write what was asked for within the step
            steps += 1
            new = end if dt == left else t + dt
            for i in range(n):
                energy[i] = base[i] + c * r1[i]
            low = p1[0]
            high = p1[0]
            peak = 0
            for i in range(1, n):
                low = min(low, p1[i])
                if p1[i] >= high:
                    high = p1[i]
                    peak = i
            if not (low > -1e300 and high < 1e300):
                status = 4
                break
            if low < table[2] or high > table[3]:
                status = 3
            for side in range(2):
                heat_new[side] = heat[side] + areas[side] * dt * (
                    _W * (q[0, side] + q[1, side]) + _HALF * q[2, side]
                )
                for m in range(N_MECHANISMS):
                    booked[section, side, m] += (
                        areas[side]
                        * dt
                        * (_W * (parts[0, side, m] + parts[1, side, m]) + _HALF * parts[2, side, m])
                    )
            per_dt = 1.0 / dt
            wanted = (i_time < n_times and times[i_time] <= new) or n_times == 0
            if wanted:
                solid[1, 0], solid[1, 1] = _solid(
                    pg, n, peak, depth, hot, cold, locator, table_first, table_inverse, solidus, liquidus
                )
            solid[2, 0], solid[2, 1] = _solid(
                p1, n, peak, depth, hot, cold, locator, table_first, table_inverse, solidus, liquidus
            )
            while i_time < n_times and times[i_time] <= new:
                theta = (times[i_time] - t) * per_dt
                a, b_, c_ = _blend(theta)
                for side in range(n_sides):
                    i = 0 if side == 0 else last
                    v = a * p0[i] + b_ * pg[i] + c_ * p1[i]
                    b = _find(v, hot, locator, table_first, table_inverse)
                    temp = cold[b, 0] + cold[b, 1] * (v - hot[b, 0])
                    surface_out[side, i_time] = temp
                    law = laws[section, side]
                    if law[0] > 0.0:
                        flux_out[side, i_time] = a * q[0, side] + b_ * q[1, side] + c_ * q[2, side]
                    else:
                        flux_out[side, i_time], slope = _surface(
                            times[i_time],
                            temp,
                            law,
                            s_rows,
                            s_starts,
                            s_inverses,
                            t_rows,
                            t_starts,
                            t_inverses,
                            scratch,
                        )
                    s2 = theta * theta
                    s3 = s2 * theta
                    heat_out[side, i_time] = (
                        (2.0 * s3 - 3.0 * s2 + 1.0) * heat[side]
                        + (3.0 * s2 - 2.0 * s3) * heat_new[side]
                        + dt * areas[side] * ((s3 - 2.0 * s2 + theta) * q[0, side] + (s3 - s2) * q[2, side])
                    )
                    if n_sides == 1:
                        value = (
                            a * (solid[0, 0] + solid[0, 1])
                            + b_ * (solid[1, 0] + solid[1, 1])
                            + c_ * (solid[2, 0] + solid[2, 1])
                        )
                    else:
                        value = a * solid[0, side] + b_ * solid[1, side] + c_ * solid[2, side]
                    solid_out[side, i_time] = value
                    for k in range(n_levels):
                        shell_out[side, k, i_time], place[side, k] = _front(
                            p0,
                            pg,
                            p1,
                            a,
                            b_,
                            c_,
                            n,
                            depth,
                            gap,
                            span,
                            levels[k],
                            side == 1,
                            int(place[side, k]),
                        )
                v = _within(a, b_, c_, p0[peak], pg[peak], p1[peak])
                centre_out[0, i_time] = v
                centre_out[1, i_time] = depth[peak]
                i_time += 1
            while i_profile < n_profiles and profile_times[i_profile] <= new:
                a, b_, c_ = _blend((profile_times[i_profile] - t) / dt)
                for i in range(n):
                    profile_out[i_profile, i] = _within(a, b_, c_, p0[i], pg[i], p1[i])
                i_profile += 1
            for k in range(n_levels):
                if closure[0, k] < 0.0 and high <= levels[k]:
                    # the hottest point passes the level within this step
                    lo = 0.0
                    hi = 1.0
                    for _ in range(50):
                        theta = 0.5 * (lo + hi)
                        a, b_, c_ = _blend(theta)
                        hottest = _within(a, b_, c_, p0[0], pg[0], p1[0])
                        for i in range(1, n):
                            hottest = max(hottest, _within(a, b_, c_, p0[i], pg[i], p1[i]))
                        if hottest <= levels[k]:
                            hi = theta
                        else:
                            lo = theta
                    closure[0, k] = t + hi * dt
                    closure[1, k] = depth[peak]
                    if peak > 0 and peak < last:  # vertex of the parabola through the hottest node
                        a, b_, c_ = _blend(hi)
                        before = _within(a, b_, c_, p0[peak - 1], pg[peak - 1], p1[peak - 1])
                        hottest = _within(a, b_, c_, p0[peak], pg[peak], p1[peak])
                        after = _within(a, b_, c_, p0[peak + 1], pg[peak + 1], p1[peak + 1])
                        h0 = depth[peak] - depth[peak - 1]
                        h1 = depth[peak + 1] - depth[peak]
                        up = (hottest - before) / h0
                        down = (after - hottest) / h1
                        if up > down:
                            closure[1, k] += 0.5 * (up * h1 + down * h0) / (up - down)
            since_check += 1
            if since_check >= 4 or new >= end:
                since_check = 0
                _enthalpy(
                    p1,
                    n,
                    curved,
                    weights,
                    hot,
                    locator,
                    table_first,
                    table_inverse,
                    eg,
                    lower,
                    diagonal,
                    upper,
                )
                for i in range(n):
                    volume = 0.0
                    if i < last:
                        volume += weights[0, i] + 0.5 * weights[1, i]
                    if i > 0:
                        volume += weights[2, i - 1] + 0.5 * weights[3, i - 1]
                    worst_table = max(worst_table, abs(eg[i] - energy[i]) / max(volume, least_volume))
            # what would have predicted this step best predicts the next; a parabola unless fronts pass nodes
            if begun:
                u = dt / old_step
                a, b_, c_ = _blend(1.0 + u)
                constant = 0.0
                straight = 0.0
                parabola = 0.0
                for i in range(n):
                    constant = max(constant, abs(p1[i] - p0[i]))
                    straight = max(straight, abs(p1[i] - p0[i] - u * (p0[i] - old0[i])))
                    parabola = max(parabola, abs(p1[i] - a * old0[i] - b_ * oldg[i] - c_ * p0[i]))
                order = 2 if parabola <= 1.5 * min(straight, constant) else (1 if straight <= constant else 0)
            else:
                order = 2
            begun = True
            for i in range(n):
                e0[i] = energy[i]
                old0[i] = p0[i]
                oldg[i] = pg[i]
                p0[i] = p1[i]
                r0[i] = r1[i]
            for side in range(2):
                heat[side] = heat_new[side]
                q[0, side] = q[2, side]
                solid[0, side] = solid[2, side]
                for m in range(N_MECHANISMS):
                    parts[0, side, m] = parts[2, side, m]
            old_step = dt
            t = new
            if status != 0:
                break
            growth = 2.0 if error <= 0.0 else min(2.0, 0.75 * error ** (-1.0 / 3.0))
            dt_next = dt * growth
        if status != 0:
            break
    for i in range(n):
        profile_out[n_profiles, i] = p0[i]
    account[0] = status
    account[1] = t
    account[2] = steps
    account[3] = rejected
    account[4] = iterations
    account[5] = worst_table
    account[6] = heat[0]
    account[7] = heat[1]
    # marched enthalpy at the end, and the enthalpy of the final potentials through the table
    _enthalpy(p0, n, curved, weights, hot, locator, table_first, table_inverse, eg, lower, diagonal, upper)
    _enthalpy(
        initial, n, curved, weights, hot, locator, table_first, table_inverse, energy, lower, diagonal, upper
    )
    marched = 0.0
    recounted = 0.0
    for i in range(n):
        marched += energy[i] - e0[i]
        recounted += energy[i] - eg[i]
    account[8] = marched
    account[9] = recounted
    return status


@_compiled
def march_batch(
    strands,
    node_offset,
    depth,
    conductance,
    weights,
    curved,
    areas,
    table_of,
    table_offset,
    hot,
    cold,
    locator_offset,
    locator,
    tables,
    section_offset,
    ends,
    laws,
    s_rows,
    s_starts,
    s_inverses,
    t_rows,
    t_starts,
    t_inverses,
    source,
    source_start,
    source_inverse,
    initial,
    controls,
    levels,
    n_sides,
    time_offset,
    times,
    surface_out,
    flux_out,
    heat_out,
    shell_out,
    solid_out,
    centre_out,
    profile_offset,
    profile_times,
    profile_start,
    profile_out,
    booked,
    closure,
    account,
    work,
):
    """March the strands ``strands[0] .. strands[1] - 1`` of a batch; all arrays of a batch lie end to end.

    Inputs, with B strands, N nodes, S sections, M samples and P kept sections in all:

    node_offset, section_offset, time_offset, profile_offset (B + 1), where each strand's share begins;
    depth, initial (N), conductance (N) face area over spacing, the last of each strand unused;
    weights (4, N) of the half cells; curved (B); areas (B, 2) of both faces;
    table_of (B), table_offset and locator_offset (tables + 1), hot (rows, 5), cold (rows, 6), locator,
    tables (T, 9);
    ends (S), laws (S, 2, N_LAW); s_rows, t_rows uniform rows over surface temperature and over time;
    source (k, n) over uniform times, one row for none; controls (B, 5) start, fixed step, tolerance in phi,
    first
    step, most steps; levels (B, L) of phi; n_sides (B); times (M); profile_times (P).

    Outputs: surface_out, flux_out, heat_out, solid_out (2, M), shell_out (2, L, M), centre_out (2, M)
    potential and
    depth of the hottest node, profile_out flat with one more row a strand for the final potentials and
    profile_start
    (B + 1) where each begins, booked (S, 2, mechanisms), closure (B, 2, L), account (B, 10).
    """
    for b in range(strands[0], strands[1]):
        i0 = node_offset[b]
        i1 = node_offset[b + 1]
        n = i1 - i0
        k = table_of[b]
        h0 = table_offset[k]
        h1 = table_offset[k + 1]
        s0 = section_offset[b]
        s1 = section_offset[b + 1]
        m0 = time_offset[b]
        m1 = time_offset[b + 1]
        f0 = profile_offset[b]
        f1 = profile_offset[b + 1]
        sides = n_sides[b]
        _march_one(
            n,
            depth[i0:i1],
            conductance[i0:i1],
            weights[:, i0:i1],
            curved[b],
            areas[b],
            hot[h0:h1],
            cold[h0:h1],
            locator[locator_offset[k] : locator_offset[k + 1]],
            tables[k],
            ends[s0:s1],
            laws[s0:s1],
            s_rows,
            s_starts,
            s_inverses,
            t_rows,
            t_starts,
            t_inverses,
            source,
            source_start,
            source_inverse,
            initial[i0:i1],
            controls[b, 0],
            controls[b, 1],
            controls[b, 2],
            controls[b, 3],
            int(controls[b, 4]),
            levels[b],
            times[m0:m1],
            surface_out[:sides, m0:m1],
            flux_out[:sides, m0:m1],
            heat_out[:sides, m0:m1],
            shell_out[:sides, :, m0:m1],
            solid_out[:sides, m0:m1],
            centre_out[:, m0:m1],
            profile_times[f0:f1],
            profile_out[profile_start[b] : profile_start[b + 1]].reshape((f1 - f0 + 1, n)),
            booked[s0:s1],
            closure[b],
            account[b],
            work,
        )
