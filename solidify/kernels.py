"""The march itself: compiled loops on plain arrays, nothing else.

Enthalpy finite differences in the conduction potential phi = integral of k dT [W/m]. Conduction is linear in phi
whatever the conductivity does; the enthalpy per volume is one piecewise linear table H(phi), and the enthalpy of a
cell is the exact mean of H over its two half cells with phi linear between nodes. Time goes by TR-BDF2 (M.E. Hosea and
L.F. Shampine, Appl. Numer. Math. 20 (1996) 21-37; formulae from memory, order checked in the tests) with its embedded
error estimate, Newton with the true surface derivative, and an enthalpy update by the fluxes, so that heat lost equals
heat removed to round-off.

A row of surface laws has the columns of `solidify.schedule.LAW`; time is counted from the birth of the slice.

Nothing here validates, allocates per step, raises or knows what a strand is; `solidify.marching` does that. A batch is
many strands whose arrays lie end to end, with offsets. Every function that another one calls lives in this file,
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

N_WORK = 23
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

# shares of the tolerance: while the centre freezes, when gradients are small and fronts run, and where the flux rises
# as the surface cools, so that errors grow by themselves; and the longest step beside the age while the centre freezes
_LATE, _RUNAWAY, _LATE_STEP = 0.5, 0.035, 0.06

# "_nrt" off: nothing is allocated here, and counting references to arrays would take a quarter of the time
_OPTIONS: dict = {"nogil": True, "_nrt": False, "error_model": "numpy", "fastmath": {"contract"}}
_LEAF = _OPTIONS | {"forceinline": True, "no_cpython_wrapper": True, "no_cfunc_wrapper": True}


def _compiled(function):
    """Compile with a cache on disk; without one where no folder can be written."""
    try:
        return njit(cache=True, **_OPTIONS)(function)
    except RuntimeError:
        os.environ.setdefault("SOLIDIFY_NO_CACHE", "1")
        return njit(**_OPTIONS)(function)


def _inlined(function):
    """Compile into the callers; nothing of it is called from Python or kept on disk by itself.

    A callee left standing may, in the process that compiles, be bound to a copy that was optimised apart and
    rounds otherwise than the one in the cache: the first run on a machine then differs in the last bit.
    """
    return njit(**_LEAF)(function)


@_inlined
def _find(phi, steel):
    """Bin of the table that holds phi; the end bins extend for ever."""
    hot, _, locator, first, inverse = steel
    last = locator.shape[0] - 1
    x = (phi - first) * inverse
    cell = 0 if not x > 0.0 else (last if x >= last else int(x))
    b = np.int64(np.uint32(locator[cell]))
    while phi >= hot[b + 1, 0]:
        b += 1
    return b


@_inlined
def _temperature(phi, steel):
    """Temperature [degC] at phi and its derivative."""
    hot, cold, _, _, _ = steel
    b = _find(phi, steel)
    return cold[b, 0] + cold[b, 1] * (phi - hot[b, 0]), cold[b, 1]


@_inlined
def _read_row(x, row, curves):
    """Linear interpolation in a uniform row, flat outside; value and slope."""
    rows, starts, inverses = curves
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
def _scaled(factor, temp, row, curves):
    """Coefficient at a surface temperature: a factor, times a row where there is one; value and slope."""
    if factor == 0.0 or row < 0.0:
        return factor, 0.0
    value, slope = _read_row(temp, int(row), curves)
    return factor * value, factor * slope


@_inlined
def _prescribed(t, law, curves):
    """Prescribed flux [W m-2] or fixed potential [W m-1] of a face at the age t."""
    q = law[1]
    if law[2] != 0.0 or law[3] != 0.0:
        root = math.sqrt(max(t, 1e-12))
        q += law[2] * root + law[3] / root
    q = min(max(q, law[4]), law[5])
    if law[6] >= 0.0:
        q += _read_row(t, int(law[6]), curves)[0]
    return q


@_inlined
def _surface(t, temp, laws, surface_curves, time_curves, part):
    """Flux out of a face [W m-2], its derivative by surface temperature, and its parts by mechanism.

    The first of two laws acts, or turns into the second, linearly in time.
    """
    part[:] = 0.0
    slope = 0.0
    turned = (t - laws[0, 18]) * laws[0, 19]
    for k in range(2 if laws[0, 19] > 0.0 else 1):
        law = laws[k]
        weight = turned if k == 1 else 1.0 - turned
        part[int(law[7])] += weight * _prescribed(t, law, time_curves)
        h, rise = _scaled(law[8], temp, law[9], surface_curves)
        sprayed = h * (temp - law[10])
        steep = h + rise * (temp - law[10])
        shone = 0.0
        if law[11] != 0.0:
            e, rise = _scaled(law[11], temp, law[12], surface_curves)
            x = temp + _KELVIN
            a = law[13] + _KELVIN
            lift = x * x * x * x - a * a * a * a
            shone = e * _SIGMA * lift
            steep += _SIGMA * (4.0 * e * x * x * x + rise * lift)
        blown = law[14] * (temp - law[13])
        steep += law[14]
        share = law[16] / (1.0 - law[16])
        h, rise = _scaled(law[15], temp, law[17], surface_curves)
        part[1] += weight * sprayed
        part[2] += weight * shone
        part[3] += weight * blown
        part[4] += weight * (h * (temp - law[13]) + share * (sprayed + shone + blown))
        slope += weight * (steep + h + rise * (temp - law[13]) + share * steep)
    total = 0.0
    for m in range(N_MECHANISMS):
        total += part[m]
    return total, slope


@_inlined
def _state(phi, steel):
    """Bin of the table, slope of the enthalpy there, and the enthalpy [J m-3]."""
    hot = steel[0]
    b = _find(phi, steel)
    s = hot[b, 2]
    return b, s, hot[b, 1] + s * (phi - hot[b, 0])


@_inlined
def _half_cells(pa, ia, sa, ha, pb, ib, sb, hb, i, weights, curved, steel):
    """Enthalpies of the two half cells between nodes i and i + 1, and their derivatives by both potentials.

    weights[0:2] belong to the half cell right of node i (owned by i), weights[2:4] to the half cell left of node
    i + 1 (owned by i + 1): enthalpy = w0 mean(H) + w1 mean(s H), with s from 0 to 1 along the half cell.

    Between nodes at most one bin apart, t from 0 to 1, H = ha + sa D t + kink D (t - te) beyond the edge at te; with
    p = max(1/2 - te, 0) and q = 1 - te all means and derivatives are polynomials in p and q, and nothing cancels.
    """
    hot = steel[0]
    d = pb - pa
    w0 = weights[0][i]
    v0 = weights[2][i]
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
            w1 = weights[1][i]
            v1 = weights[3][i]
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
        y = pb - hot[ib, 0]
        gb = hot[ib, 3] + y * (hot[ib, 1] + 0.5 * sb * y)
        im, sm, hm = _state(0.5 * (pa + pb), steel)
        z = 0.5 * (pa + pb) - hot[im, 0]
        gm = hot[im, 3] + z * (hot[im, 1] + 0.5 * sm * z)
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
            w1 = weights[1][i]
            v1 = weights[3][i]
            km = hot[im, 4] + z * (hot[im, 3] + z * (0.5 * hot[im, 1] + sm * z * (1.0 / 6.0)))
            ka = hot[ia, 4] + x * (hot[ia, 3] + x * (0.5 * hot[ia, 1] + sa * x * (1.0 / 6.0)))
            kb = hot[ib, 4] + y * (hot[ib, 3] + y * (0.5 * hot[ib, 1] + sb * y * (1.0 / 6.0)))
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
    return e_left, e_right, d_la, d_lb, d_ra, d_rb


@_inlined
def _enthalpy(phi, n, curved, weights, steel, energy):
    """Enthalpy of every cell [J m-2 of the first face]."""
    pa = phi[0]
    ia, sa, ha = _state(pa, steel)
    own = 0.0
    for i in range(n - 1):
        pb = phi[i + 1]
        ib, sb, hb = _state(pb, steel)
        left, right, _, _, _, _ = _half_cells(pa, ia, sa, ha, pb, ib, sb, hb, i, weights, curved, steel)
        energy[i] = own + left
        own = right
        pa = pb
        ia = ib
        sa = sb
        ha = hb
    energy[n - 1] = own


@_inlined
def _newton(
    phi, n, c, base, conductance, curved, weights, steel, face, face_slope, lower, pivot, factor, change
):
    """One Newton step of H(phi) + c (heat conducted and given off) = base; returns the largest change.

    The matrix is built and eliminated row by row as the enthalpy is read: the elimination waits for its divisions,
    the reading for nothing. `face` and `face_slope` are c times what leaves by both faces and its derivative; an
    infinite derivative holds a face where it is. Afterwards `lower`, `pivot` and `factor` serve `_substitute`.
    """
    pa = phi[0]
    ia, sa, ha = _state(pa, steel)
    own = face[0]
    own_d = face_slope[0]
    flow = 0.0
    link = 0.0
    low = 0.0
    y = 0.0
    f = 0.0
    for i in range(n - 1):
        pb = phi[i + 1]
        ib, sb, hb = _state(pb, steel)
        left, right, d_la, d_lb, d_ra, d_rb = _half_cells(
            pa, ia, sa, ha, pb, ib, sb, hb, i, weights, curved, steel
        )
        residual = base[i] - (own + left) - flow
        diagonal = own_d + d_la + link
        link = c * conductance[i]
        flow = link * (pb - pa)
        below = 1.0 / (diagonal + link - low * f)
        y = (residual + flow - low * y) * below
        f = (d_lb - link) * below
        lower[i] = low * below
        pivot[i] = below
        factor[i] = f
        change[i] = y
        low = d_ra - link
        own = right
        own_d = d_rb
        pa = pb
        ia = ib
        sa = sb
        ha = hb
    last = n - 1
    below = 1.0 / (own_d + face_slope[1] + link - low * f)
    lower[last] = low * below
    pivot[last] = below
    y = (base[last] - (own + face[1]) - flow - low * y) * below
    change[last] = y
    largest = abs(y)
    for i in range(n - 2, -1, -1):
        y = change[i] - factor[i] * y
        change[i] = y
        largest = max(largest, abs(y))
    return largest


@_inlined
def _substitute(n, lower, pivot, factor, change):
    """Solve once more with the factors of the last Newton step; returns the largest change."""
    y = 0.0
    for i in range(n):
        y = change[i] * pivot[i] - lower[i] * y
        change[i] = y
    largest = abs(y)
    for i in range(n - 2, -1, -1):
        y = change[i] - factor[i] * y
        largest = max(largest, abs(y))
    return largest


@_inlined
def _solid(phi, n, peak, depth, steel, solidus, liquidus):
    """Integral of the solid fraction over depth [m], from the first face to node `peak` and from there on."""
    hot, cold, _, _, _ = steel
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
                ia = _find(pa, steel)
                x = pa - hot[ia, 0]
                fa = cold[ia, 2] + cold[ia, 3] * x
                ga = cold[ia, 4] + x * (cold[ia, 2] + 0.5 * cold[ia, 3] * x)
            ib = _find(pb, steel)
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
    span = 1 / (x[i+1] - x[i-1]) of the nodes. The march gives chords that hold the right heat, and phi is curved where
    it freezes: nodes lie beside the curve by h^2 phi'' / 24, which is taken off here.
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
    while True:
        h = abs(depth[j] - depth[i])
        rise = there - here
        after = there
        most = 0.4 * rise  # beyond that it is a kink and no curvature
        low = here
        high = there
        bend = 0.0  # phi = low + rise u + bend u (u - 1)
        sides = 0.0
        if i != first:
            k = i - step
            before = _within(a, b, c, p0[k], pg[k], p1[k])
            half = (rise - (here - before) * (h * gap[min(i, k)])) * (h * span[i])
            low += min(max(half, -most), most) * (1.0 / 12.0)
            bend += half
            sides += 1.0
        if j + step != beyond:
            k = j + step
            after = _within(a, b, c, p0[k], pg[k], p1[k])
            half = ((after - there) * (h * gap[min(j, k)]) - rise) * (h * span[j])
            high += min(max(half, -most), most) * (1.0 / 12.0)
            bend += half
            sides += 1.0
        if high > level or not after > there:
            break
        here = there  # the front has passed the node already
        there = after
        i = j
        j += step
    rise = high - low
    bend = min(max(bend / max(sides, 1.0), -0.5 * rise), 0.5 * rise)  # so that phi rises all the way
    left = max(level - low, 0.0)
    linear = rise - bend
    u = min(2.0 * left / (linear + math.sqrt(max(linear * linear + 4.0 * bend * left, 0.0))), 1.0)
    return abs(depth[i] + u * (depth[j] - depth[i]) - depth[first]), i


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
    ends (S), laws (S, 2, 2, N_LAW) of each face, what acts and what it turns into; s_rows, t_rows uniform rows over
    surface temperature and over time; source (k, n) over uniform times, one row for none; controls (B, 5) start,
    fixed step, tolerance in phi, first step, most steps; levels (B, L) of phi; n_sides (B); times (M);
    profile_times (P).

    Outputs: surface_out, flux_out, heat_out, solid_out (2, M), shell_out (2, L, M), centre_out (2, M) potential and
    depth of the hottest node, profile_out flat with one more row a strand for the final potentials and profile_start
    (B + 1) where each begins, booked (S, 2, mechanisms), closure (B, 2, L), account (B, 10).
    """
    surface_curves = (s_rows, s_starts, s_inverses)
    time_curves = (t_rows, t_starts, t_inverses)
    has_source = source.shape[0] > 1
    p0, pg, p1, old0, oldg = work[0], work[1], work[2], work[3], work[4]
    e0, eg, base, energy, begun = work[5], work[6], work[7], work[8], work[9]
    r0, rg, r1 = work[10], work[11], work[12]
    lower, pivot, factor, change = work[13], work[14], work[15], work[16]
    gap, span, per_volume, sources, small = work[17], work[18], work[19], work[20], work[21]
    scratch = small[0:N_MECHANISMS]
    parts = small[6:42].reshape((3, 2, N_MECHANISMS))
    q = small[42:48].reshape((3, 2))
    heat = small[48:50]
    heat_new = small[50:52]
    solid = small[52:58].reshape((3, 2))
    face = small[58:60]
    face_slope = small[60:62]
    for strand in range(strands[0], strands[1]):
        i0 = node_offset[strand]
        i1 = node_offset[strand + 1]
        n = i1 - i0
        last = n - 1
        x = depth[i0:i1]
        link = conductance[i0:i1]
        bent = curved[strand]
        half = (weights[0, i0:i1], weights[1, i0:i1], weights[2, i0:i1], weights[3, i0:i1])
        area = areas[strand]
        k = table_of[strand]
        table = tables[k]
        rows = hot[table_offset[k] : table_offset[k + 1]]
        steel = (
            rows,
            cold[table_offset[k] : table_offset[k + 1]],
            locator[locator_offset[k] : locator_offset[k + 1]],
            table[0],
            table[1],
        )
        start, fixed_step, tolerance, first_step = (
            controls[strand, 0],
            controls[strand, 1],
            controls[strand, 2],
            controls[strand, 3],
        )
        max_steps = controls[strand, 4]
        accept = min(0.05 * tolerance, table[4])  # largest change of the last Newton step
        steep_low = table[5]  # a node that would jump over the steepest freezing stops in it
        steep_high = table[6]
        sides = n_sides[strand]
        level = levels[strand]
        place = work[22][: 2 * level.shape[0]].reshape((2, level.shape[0]))
        place[0, :] = 0.0
        place[1, :] = last
        small[:] = 0.0
        volume = 0.0
        before = 0.0
        for i in range(n):
            own = before
            if i < last:
                gap[i] = 1.0 / (x[i + 1] - x[i])
                own += half[0][i] + 0.5 * half[1][i]
                before = half[2][i] + 0.5 * half[3][i]
            if 0 < i < last:
                span[i] = 1.0 / (x[i + 1] - x[i - 1])
            per_volume[i] = own
            volume += own
        for i in range(n):  # at least a tenth of the mean: the last cell of a round has next to none
            per_volume[i] = 1.0 / max(per_volume[i], 0.1 * volume / n)
        # a face held at another temperature than the slice starts with gives up the difference at once
        s0 = section_offset[strand]
        for i in range(n):
            p0[i] = initial[i0 + i]
        for side in range(-1, 2):
            if side >= 0:
                if laws[s0, side, 0, 0] <= 0.0:
                    continue
                p0[0 if side == 0 else last] = _prescribed(start, laws[s0, side, 0], time_curves)
            _enthalpy(p0, n, bent, half, steel, energy)
            for i in range(n):
                if side < 0:
                    begun[i] = energy[i]
                else:
                    heat[side] += e0[i] - energy[i]
                e0[i] = energy[i]
            if side >= 0:
                booked[s0, side, int(laws[s0, side, 0, 7])] += heat[side]
        t = start
        steps = 0
        rejected = 0
        iterations = 0
        since_check = 0
        worst_table = 0.0
        old_step = 0.0
        i_time = time_offset[strand]
        end_time = time_offset[strand + 1]
        i_profile = profile_offset[strand]
        end_profile = profile_offset[strand + 1]
        kept = profile_start[strand]
        dt_next = first_step
        peak = last
        freezing = False  # whether the centre is
        known = False  # whether solid[0] is
        status = 0
        for section in range(s0, section_offset[strand + 1]):
            end = ends[section]
            if not end > t:
                continue
            if t > start:
                dt_next = min(dt_next, first_step)
            order = 0  # of the polynomial through earlier stages that predicts the next
            running = False
            first_stage = 0  # the surface is the same on both sides of a zone border, its flux is not
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
                new = end if dt == left else t + dt
                c = _HALF * dt
                solved = False
                for stage in range(first_stage, 3):
                    phi = p0
                    rate = r0
                    when = t
                    if stage == 1:
                        phi = pg
                        rate = rg
                        when = t + _GAMMA * dt
                        if order == 2:
                            # parabola through the three stages of the step before, prolonged
                            a, b, d = _blend(1.0 + _GAMMA * dt / old_step)
                            for i in range(n):
                                phi[i] = a * old0[i] + b * oldg[i] + d * p0[i]
                        else:
                            a = _GAMMA * dt / old_step if order == 1 else 0.0
                            for i in range(n):
                                phi[i] = p0[i] + a * (p0[i] - old0[i])
                        for i in range(n):
                            base[i] = e0[i] + c * r0[i]
                    elif stage == 2:
                        phi = p1
                        rate = r1
                        when = new
                        if order == 2:
                            # parabola through the start of the step before, this start and this middle
                            before = -old_step
                            after = _GAMMA * dt
                            a = (dt * (dt - after)) / (before * (before - after))
                            b = ((dt - before) * (dt - after)) / (-before * -after)
                            d = ((dt - before) * dt) / ((after - before) * after)
                            for i in range(n):
                                phi[i] = a * old0[i] + b * p0[i] + d * pg[i]
                        else:
                            for i in range(n):
                                phi[i] = p0[i] + (pg[i] - p0[i]) / _GAMMA
                        for i in range(n):
                            base[i] = _B2 * eg[i] - _B1 * e0[i]
                    right = base
                    if has_source:
                        u = (when - source_start) * source_inverse
                        k = min(max(int(u), 0), source.shape[0] - 2)
                        right = energy
                        for i in range(n):
                            sources[i] = source[k, i] + (u - k) * (source[k + 1, i] - source[k, i])
                            right[i] = base[i] + c * sources[i]
                    counted = stage == 2 and (since_check >= 3 or dt == left)
                    for side in range(2):
                        if laws[section, side, 0, 0] > 0.0:
                            face[side] = 0.0
                            face_slope[side] = np.inf
                            counted = True
                            if stage > 0:
                                phi[0 if side == 0 else last] = _prescribed(
                                    when, laws[section, side, 0], time_curves
                                )
                    solved = stage == 0
                    done = False
                    for _ in range(MAX_ITERATIONS + 1):
                        for side in range(2):
                            if laws[section, side, 0, 0] <= 0.0:
                                temp, rise = _temperature(phi[0 if side == 0 else last], steel)
                                flux, slope = _surface(
                                    when,
                                    temp,
                                    laws[section, side],
                                    surface_curves,
                                    time_curves,
                                    parts[stage, side],
                                )
                                q[stage, side] = flux
                                face[side] = c * area[side] * flux
                                face_slope[side] = c * area[side] * slope * rise
                        if solved:
                            done = True
                            break
                        iterations += 1
                        largest = _newton(
                            phi,
                            n,
                            c,
                            right,
                            link,
                            bent,
                            half,
                            steel,
                            face,
                            face_slope,
                            lower,
                            pivot,
                            factor,
                            change,
                        )
                        for i in range(n):
                            before = phi[i]
                            after = before + change[i]
                            if (before < steep_low and after > steep_high) or (
                                before > steep_high and after < steep_low
                            ):
                                after = 0.5 * (steep_low + steep_high)  # from afar the latent heat is a step
                            phi[i] = after
                        if not largest < 1e300:
                            break
                        solved = largest <= accept
                    solved = done
                    if not solved:
                        break
                    # rates at the accepted potentials, and the enthalpy they give
                    flow = 0.0
                    for i in range(last):
                        ahead = link[i] * (phi[i + 1] - phi[i])
                        rate[i] = ahead - flow
                        flow = ahead
                    rate[last] = -flow
                    if has_source:
                        for i in range(n):
                            rate[i] += sources[i]
                    if counted:
                        _enthalpy(phi, n, bent, half, steel, energy)
                    for side in range(2):
                        i = 0 if side == 0 else last
                        law = laws[section, side, 0]
                        if law[0] > 0.0:
                            # what must leave so that the first cell has the enthalpy of the fixed temperature
                            stored = (energy[i] - base[i]) / c if stage > 0 else 0.0
                            q[stage, side] = (rate[i] - stored) / area[side]
                            parts[stage, side, :] = 0.0
                            parts[stage, side, int(law[7])] = q[stage, side]
                        rate[i] -= area[side] * q[stage, side]
                    if stage == 1:
                        for i in range(n):
                            eg[i] = base[i] + c * rate[i]
                first_stage = 1
                error = 0.0
                if solved and fixed_step <= 0.0:
                    # embedded estimate, damped by the last matrix
                    for i in range(n):
                        change[i] = dt * (_E0 * r0[i] + _E1 * rg[i] + _E2 * r1[i])
                    allowed = tolerance
                    if min(face_slope[0], face_slope[1]) < 0.0:
                        allowed *= _RUNAWAY
                    elif freezing:
                        allowed *= _LATE
                    error = _substitute(n, lower, pivot, factor, change) / allowed
                if not solved or error > 1.0:
                    rejected += 1
                    if fixed_step > 0.0:
                        status = 1
                        break
                    dt_next = dt * max(0.2, 0.65 * error ** (-1.0 / 3.0)) if solved else 0.25 * dt
                    if dt_next < 1e-9 * max(first_step, 1e-9 * end) or dt_next < 4e-16 * t:
                        status = 1
                        break
                    continue
                # accepted: book the heat, write what was asked for within the step
                steps += 1
                low = p1[0]
                high = p1[0]
                peak_before = peak
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
                    share = area[side] * dt
                    heat_new[side] = heat[side] + share * (
                        _W * (q[0, side] + q[1, side]) + _HALF * q[2, side]
                    )
                    for m in range(N_MECHANISMS):
                        booked[section, side, m] += share * (
                            _W * (parts[0, side, m] + parts[1, side, m]) + _HALF * parts[2, side, m]
                        )
                wanted = i_time < end_time and times[i_time] <= new
                if wanted:
                    for stage in range(1 if known else 0, 3):
                        phi = p0 if stage == 0 else (pg if stage == 1 else p1)
                        solid[stage, 0], solid[stage, 1] = _solid(
                            phi, n, peak if stage > 0 else peak_before, x, steel, table[7], table[8]
                        )
                known = wanted
                while i_time < end_time and times[i_time] <= new:
                    theta = (times[i_time] - t) / dt
                    a, b, d = _blend(theta)
                    for side in range(sides):
                        i = 0 if side == 0 else last
                        temp, _ = _temperature(a * p0[i] + b * pg[i] + d * p1[i], steel)
                        surface_out[side, i_time] = temp
                        flux_out[side, i_time] = a * q[0, side] + b * q[1, side] + d * q[2, side]
                        if laws[section, side, 0, 0] <= 0.0:
                            flux_out[side, i_time], _ = _surface(
                                times[i_time],
                                temp,
                                laws[section, side],
                                surface_curves,
                                time_curves,
                                scratch,
                            )
                        s2 = theta * theta
                        s3 = s2 * theta
                        heat_out[side, i_time] = (
                            (2.0 * s3 - 3.0 * s2 + 1.0) * heat[side]
                            + (3.0 * s2 - 2.0 * s3) * heat_new[side]
                            + dt
                            * area[side]
                            * ((s3 - 2.0 * s2 + theta) * q[0, side] + (s3 - s2) * q[2, side])
                        )
                        value = a * solid[0, side] + b * solid[1, side] + d * solid[2, side]
                        if sides == 1:
                            value += a * solid[0, 1] + b * solid[1, 1] + d * solid[2, 1]
                        solid_out[side, i_time] = value
                        for k in range(level.shape[0]):
                            shell_out[side, k, i_time], place[side, k] = _front(
                                p0, pg, p1, a, b, d, n, x, gap, span, level[k], side == 1, int(place[side, k])
                            )
                    centre_out[0, i_time] = _within(a, b, d, p0[peak], pg[peak], p1[peak])
                    centre_out[1, i_time] = x[peak]
                    i_time += 1
                while i_profile < end_profile and profile_times[i_profile] <= new:
                    a, b, d = _blend((profile_times[i_profile] - t) / dt)
                    for i in range(n):
                        profile_out[kept + i] = _within(a, b, d, p0[i], pg[i], p1[i])
                    kept += n
                    i_profile += 1
                for k in range(level.shape[0]):
                    if closure[strand, 0, k] < 0.0 and high <= level[k]:
                        # the hottest point passes the level within this step
                        before = 0.0
                        after = 1.0
                        for _ in range(50):
                            theta = 0.5 * (before + after)
                            a, b, d = _blend(theta)
                            hottest = -1e300
                            for i in range(n):
                                hottest = max(hottest, _within(a, b, d, p0[i], pg[i], p1[i]))
                            if hottest <= level[k]:
                                after = theta
                            else:
                                before = theta
                        closure[strand, 0, k] = t + after * dt
                        closure[strand, 1, k] = x[peak]
                        if 0 < peak < last:  # vertex of the parabola through the hottest node
                            a, b, d = _blend(after)
                            hottest = _within(a, b, d, p0[peak], pg[peak], p1[peak])
                            before = _within(a, b, d, p0[peak - 1], pg[peak - 1], p1[peak - 1])
                            after = _within(a, b, d, p0[peak + 1], pg[peak + 1], p1[peak + 1])
                            up = (hottest - before) * gap[peak - 1]
                            down = (after - hottest) * gap[peak]
                            if up > down:
                                closure[strand, 1, k] += (
                                    0.5 * (up / gap[peak] + down / gap[peak - 1]) / (up - down)
                                )
                # what would have predicted this step best predicts the next; a parabola unless fronts pass nodes
                order = 2
                if running:
                    u = dt / old_step
                    a, b, d = _blend(1.0 + u)
                    constant = 0.0
                    straight = 0.0
                    parabola = 0.0
                    for i in range(n):
                        constant = max(constant, abs(p1[i] - p0[i]))
                        straight = max(straight, abs(p1[i] - p0[i] - u * (p0[i] - old0[i])))
                        parabola = max(parabola, abs(p1[i] - a * old0[i] - b * oldg[i] - d * p0[i]))
                    if parabola > 1.5 * min(straight, constant):
                        order = 1 if straight <= constant else 0
                running = True
                for i in range(n):
                    e0[i] = base[i] + c * r1[i]
                    old0[i] = p0[i]
                    oldg[i] = pg[i]
                    p0[i] = p1[i]
                    r0[i] = r1[i]
                since_check += 1
                if since_check >= 4 or dt == left:
                    since_check = 0
                    for i in range(n):
                        worst_table = max(worst_table, abs(energy[i] - e0[i]) * per_volume[i])
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
                dt_next = dt * (2.0 if error <= 0.0 else min(2.0, 0.65 * error ** (-1.0 / 3.0)))
                freezing = table[7] < p0[peak] < table[8]
                if freezing:
                    dt_next = min(dt_next, max(_LATE_STEP * t, 10.0 * first_step))
            if status != 0:
                break
        # how it ended: the heat by the marched enthalpy, and by the final potentials through the table
        marched = 0.0
        recounted = 0.0
        kept = profile_start[strand + 1] - n
        for i in range(n):
            profile_out[kept + i] = p0[i]
            marched += begun[i] - e0[i]
            recounted += begun[i] - energy[i]
        account[strand, 0] = status
        account[strand, 1] = t
        account[strand, 2] = steps
        account[strand, 3] = rejected
        account[strand, 4] = iterations
        account[strand, 5] = worst_table
        account[strand, 6] = heat[0]
        account[strand, 7] = heat[1]
        account[strand, 8] = marched
        account[strand, 9] = recounted
