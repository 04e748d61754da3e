"""The march itself: compiled loops on plain arrays, nothing else.

Enthalpy finite differences in the conduction potential phi = integral of k dT [W/m]. Conduction is linear in phi
whatever the conductivity does; the enthalpy per volume is one piecewise linear table H(phi), and the enthalpy of a
cell is the exact mean of H over its two half cells with phi linear between nodes. Time goes by TR-BDF2 (M.E. Hosea and
L.F. Shampine, Appl. Numer. Math. 20 (1996) 21-37; formulae from memory, order checked in the tests) with its embedded
error estimate, Newton with the true surface derivative, and an enthalpy update by the fluxes, so that heat lost equals
heat removed to round-off.

A row of surface laws has the columns of `solidify.solver.boundary.LAW`; time is counted from the birth of the slice.

Nothing here validates, allocates per step, raises or knows what a strand is; `solidify.strand.solve` does that. A batch
is many strands whose arrays lie end to end, with offsets. Every function that another one calls lives in this file,
because a compiled cache does not notice a change in another file; only the instructions of lanes, which hold eight
neighbouring nodes, or samples, come from `solidify.solver.simd`.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from solidify.solver.simd import (
    LANES,
    broadcast,
    ctz,
    least,
    load,
    load_some,
    most,
    movemask,
    select,
    shift_in,
    sqrt,
    store,
    store_some,
    top,
    total,
)

__all__ = ["N_MECHANISMS", "STATUS", "march_batch", "work_space"]

STATUS = {
    0: "finished",
    1: "the step became too small: the equations could not be solved there",
    2: "more steps were needed than are allowed",
    3: "the temperature left the range of the steel table",
    4: "a value was not finite",
}
"""Status code of a march and its sentence."""

N_MECHANISMS = 6
"""Mechanisms that are counted apart; their order is `solidify.strand.result.MECHANISMS`."""

MAX_ITERATIONS = 20
"""Newton iterations before a stage counts as failed."""

N_WORK = 61
"""Rows of work space."""

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

# what belongs to the equation of a node, and where from its `_entry` on
_KINDS = 8
_BELOW, _PIVOT, _ABOVE, _PRODUCT, _CHANGE, _FACTOR, _SHARE = (np.uint64(k * LANES) for k in range(7))

# "_nrt" off: nothing is allocated here, and counting references to arrays would take a quarter of the time
_OPTIONS: dict = {"nogil": True, "_nrt": False, "error_model": "numpy", "fastmath": {"contract"}}
_LEAF = _OPTIONS | {"forceinline": True, "no_cpython_wrapper": True, "no_cfunc_wrapper": True}


def _compiled(function):
    """Compile with a cache on disk; without one where no folder can be written."""
    try:
        return njit(cache=True, **_OPTIONS)(function)
    except RuntimeError:
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
    b += np.int64(phi >= hot[b + 1, 0])  # most cells hold one edge at most: no branch to be guessed wrong
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
        age = max(t, 1e-12)
        root = math.sqrt(age)
        q += law[2] * root + law[3] / (root if law[20] == 0.5 else age ** law[20])
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
def _insulated(laws):
    """Whether nothing acts on a face, nor will."""
    law = laws[0]
    acts = law[4] > 0.0 or law[5] < 0.0 or law[6] >= 0.0
    for k in (0, 1, 2, 3, 8, 11, 14, 15, 19):
        acts = acts or law[k] != 0.0
    return not acts


@_inlined
def _settle(left, begin, phi, ahead, steel, state):
    """Read the table anew at those nodes from `begin` on whose bit is set, or half-way from there to the next node."""
    hot = steel[0]
    low, high, value, slope, first, second = state
    while left != 0:
        i = begin + ctz(left)
        left &= left - 1
        b = _find(0.5 * (phi[i] + phi[i + ahead]), steel)
        low[i] = hot[b, 0]
        high[i] = hot[b + 1, 0]
        value[i] = hot[b, 1]
        slope[i] = hot[b, 2]
        first[i] = hot[b, 3]
        second[i] = hot[b, 4]


@_inlined
def _assemble(phi, n, c, right, link, curved, weights, steel, nodes, middles, energy, system):
    """Enthalpy of every cell [J m-2 of the first face], and the equations of a Newton step without the faces' share.

    They are those of H(phi) + c (heat conducted) = right. `nodes` and `middles` keep of every node, and of the middle
    to the next where it is wanted, the bin of the table it was in: its ends, the enthalpy at the first of them, its
    slope, its first and second integral. The table is read only where a node has left its bin.

    Of weights, 0 and 1 belong to the half cell right of node i (owned by i), 2 and 3 to the half cell left of node
    i + 1 (owned by i + 1): enthalpy = w0 mean(H) + w1 mean(s H), with s from 0 to 1 along the half cell.
    """
    low, high, value, slope, first, second = nodes
    low_m, high_m, value_m, slope_m, first_m, second_m = middles
    for i in range(0, n, 64):
        left = 0
        for j in range(i, min(i + 64, n), LANES):
            p = load(phi, j)
            left |= movemask((p < load(low, j)) | (p >= load(high, j))) << (j - i)
        _settle(left, i, phi, 0, steel, nodes)
    own = broadcast(0.0)
    own_a = own
    own_b = own
    conducts = own
    flow = own
    upper = own
    for j in range(0, n, LANES):
        pa = load(phi, j)
        pb = load(phi, j + 1)
        d = pb - pa
        la = load(low, j)
        lb = load(low, j + 1)
        sa = load(slope, j)
        sb = load(slope, j + 1)
        ha = load(value, j) + sa * (pa - la)
        w0 = load(weights[0], j)
        v0 = load(weights[2], j)
        w1 = load(weights[1], j)
        v1 = load(weights[3], j)
        g = load(link, j)
        # Between nodes at most one bin apart, t from 0 to 1, H = ha + sa d t + kink d (t - te) beyond the edge at te;
        # with p = max(1/2 - te, 0) and q = 1 - te means and derivatives are polynomials, and nothing cancels.
        edge = most(la, lb)
        kink = sb - sa
        q = least(most((pb - edge) / d, 0.0), 1.0)
        p = most(q - 0.5, 0.0)
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
            q3 = q2 * q * (2.0 / 3.0)
            p3 = p2 * p * (2.0 / 3.0)
            e_left += w1 * (0.5 * ha + sa * d * (1.0 / 6.0) + rise * (p2 - p3))
            e_right += v1 * (0.5 * ha + sa * d * (5.0 / 12.0) + rise * (q2 - q3 + p3))
            d_la += w1 * (sa * (1.0 / 3.0) + kink * (p - 2.0 * p3))
            d_lb += w1 * (sa * (1.0 / 6.0) + kink * (p - 2.0 * p2 + 2.0 * p3))
            d_ra += v1 * (sa * (1.0 / 12.0) + kink * (q2 - 2.0 * q3 + p2 + 2.0 * p3))
            d_rb += v1 * (sa * (5.0 / 12.0) + kink * (2.0 * q - 3.0 * q2 + 2.0 * q3 + p2 - 2.0 * p3))
        apart = (edge > least(load(high, j), load(high, j + 1))) & (g > 0.0)
        if movemask(apart) != 0:
            # two edges or more lie between: differences of the integrals of H
            pm = 0.5 * (pa + pb)
            left = movemask(apart & ((pm < load(low_m, j)) | (pm >= load(high_m, j))))
            _settle(left, j, phi, 1, steel, middles)
            va = load(value, j)
            vb = load(value, j + 1)
            vm = load(value_m, j)
            sm = load(slope_m, j)
            x = pa - la
            y = pb - lb
            z = pm - load(low_m, j)
            hb = vb + sb * y
            hm = vm + sm * z
            ga = load(first, j) + x * (va + 0.5 * sa * x)
            gb = load(first, j + 1) + y * (vb + 0.5 * sb * y)
            gm = load(first_m, j) + z * (vm + 0.5 * sm * z)
            r = 2.0 / d
            m_left = (gm - ga) * r
            m_right = (gb - gm) * r
            f_left = w0 * m_left
            f_right = v0 * m_right
            f_la = w0 * (0.5 * (hm + m_left) - ha) * r
            f_lb = w0 * 0.5 * (hm - m_left) * r
            f_ra = v0 * 0.5 * (m_right - hm) * r
            f_rb = v0 * (hb - 0.5 * (hm + m_right)) * r
            if curved:
                ka = load(second, j) + x * (load(first, j) + x * (0.5 * va + sa * x * (1.0 / 6.0)))
                kb = load(second, j + 1) + y * (load(first, j + 1) + y * (0.5 * vb + sb * y * (1.0 / 6.0)))
                km = load(second_m, j) + z * (load(first_m, j) + z * (0.5 * vm + sm * z * (1.0 / 6.0)))
                fl = (gm - (km - ka) * r) * r
                fr = (gb - (kb - km) * r) * r
                flb = 0.5 * (hm - 2.0 * fl) * r
                fra = 0.5 * (2.0 * fr - m_right) * r
                f_left += w1 * fl
                f_right += v1 * fr
                f_la += w1 * ((2.0 * fl - m_left) * r + flb)
                f_lb += w1 * flb
                f_ra += v1 * fra
                f_rb += v1 * (fra + (hb - 2.0 * fr) * r)
            e_left = select(apart, f_left, e_left)
            e_right = select(apart, f_right, e_right)
            d_la = select(apart, f_la, d_la)
            d_lb = select(apart, f_lb, d_lb)
            d_ra = select(apart, f_ra, d_ra)
            d_rb = select(apart, f_rb, d_rb)
        content = shift_in(own, e_right) + e_left
        g = c * g
        ahead = g * d
        store(energy, j, content)
        lower = shift_in(own_a, d_ra - g)
        k = _entry(j)
        store(system, k + _BELOW, lower)
        store(system, k + _PIVOT, shift_in(own_b, d_rb) + d_la + (g + shift_in(conducts, g)))
        store(system, k + _ABOVE, d_lb - g)
        store(system, k + _PRODUCT, lower * shift_in(upper, d_lb - g))
        store(system, k + _CHANGE, load(right, j) - content + (ahead - shift_in(flow, ahead)))
        own = e_right
        own_a = d_ra - g
        own_b = d_rb
        conducts = g
        flow = ahead
        upper = d_lb - g


@_inlined
def _entry(i):
    """Where the equation of node i begins: of eight nodes all numbers of one kind stand together, then of the next."""
    return np.uint64(i + (i // LANES) * ((_KINDS - 1) * LANES))


@_inlined
def _solve(n, system):
    """Solve the tridiagonal equations for their right sides, in place; all else stays.

    An elimination waits for one division after the other, so three go on at once: two nodes, `left` and `right`, part
    the others into stretches of m each. The outer two are eliminated from their ends towards these, the middle one
    from `left` to `right`; there each node keeps a share of the left one:
    x[i] = (solved right side) - factor x[i + 1] - share x[left]; in the last stretch it is x[i - 1].
    """
    m = n // 3
    for i in range(n, 3 * m + 2):
        system[_entry(i) + _PIVOT] = 1.0  # a node more that is nothing
    left = _entry(m)
    right = _entry(2 * m + 1)
    p_i = p_j = p_k = 0.0  # one over the pivots of the nodes before
    x_i = x_j = x_k = 0.0
    f = product = 0.0
    s = -1.0
    onward = system[left + _ABOVE]  # what ties the left node to the next that is not eliminated
    pivot = system[left + _PIVOT]
    x = system[left + _CHANGE]
    for step in range(m):
        i = _entry(step)
        j = _entry(3 * m + 1 - step)
        k = _entry(m + 1 + step)
        p_i = 1.0 / (system[i + _PIVOT] - system[i + _PRODUCT] * p_i)
        p_j = 1.0 / (system[j + _PIVOT] - product * p_j)
        p_k = 1.0 / (system[k + _PIVOT] - system[k + _PRODUCT] * p_k)
        product = system[j + _PRODUCT]
        x_i = system[i + _CHANGE] * p_i - system[i + _BELOW] * p_i * x_i
        x_j = system[j + _CHANGE] * p_j - system[j + _ABOVE] * p_j * x_j
        x_k = system[k + _CHANGE] * p_k - system[k + _BELOW] * p_k * x_k
        f = system[k + _ABOVE] * p_k
        s *= -system[k + _BELOW] * p_k
        pivot -= onward * s
        x -= onward * x_k
        onward *= -f
        system[i + _CHANGE] = x_i
        system[j + _CHANGE] = x_j
        system[k + _CHANGE] = x_k
        system[i + _FACTOR] = system[i + _ABOVE] * p_i
        system[j + _FACTOR] = system[j + _BELOW] * p_j
        system[k + _FACTOR] = f
        system[k + _SHARE] = s
    p = 1.0 / (pivot - system[left + _PRODUCT] * p_i)
    x = (x - system[left + _BELOW] * x_i) * p
    s *= -system[right + _BELOW]  # what ties the right node to the left one
    last = system[right + _CHANGE] - system[right + _ABOVE] * x_j - system[right + _BELOW] * x_k - s * x
    last /= system[right + _PIVOT] - product * p_j - system[right + _BELOW] * f - s * onward * p
    x -= onward * p * last
    system[left + _CHANGE] = x_i = x
    system[right + _CHANGE] = x_j = x_k = last
    for step in range(m - 1, -1, -1):
        i = _entry(step)
        j = _entry(3 * m + 1 - step)
        k = _entry(m + 1 + step)
        x_i = system[i + _CHANGE] - system[i + _FACTOR] * x_i
        x_j = system[j + _CHANGE] - system[j + _FACTOR] * x_j
        x_k = (system[k + _CHANGE] - system[k + _SHARE] * x) - system[k + _FACTOR] * x_k
        system[i + _CHANGE] = x_i
        system[j + _CHANGE] = x_j
        system[k + _CHANGE] = x_k


@_inlined
def _solid(phi, n, peak, width, number, steel, solidus, liquidus, mean):
    """Integral of the solid fraction over depth [m], from the first face to node `peak` and from there on."""
    hot, cold, _, _, _ = steel
    for i in range(0, n, 64):
        mushy = 0
        for j in range(i, min(i + 64, n), LANES):
            pa = load(phi, j)
            pb = load(phi, j + 1)
            store(mean, j, select(most(pa, pb) <= solidus, 1.0, broadcast(0.0)))
            mushy |= movemask(
                (most(pa, pb) > solidus) & (least(pa, pb) < liquidus) & (load(width, j) > 0.0)
            ) << (j - i)
        known = -1
        fa = 0.0
        ga = 0.0
        ia = 0
        while mushy != 0:
            j = i + ctz(mushy)
            mushy &= mushy - 1
            pa = phi[j]
            pb = phi[j + 1]
            if known != j:
                ia = _find(pa, steel)
                x = pa - hot[ia, 0]
                fa = cold[ia, 2] + cold[ia, 3] * x
                ga = cold[ia, 4] + x * (cold[ia, 2] + 0.5 * cold[ia, 3] * x)
            ib = _find(pb, steel)
            x = pb - hot[ib, 0]
            fb = cold[ib, 2] + cold[ib, 3] * x
            gb = cold[ib, 4] + x * (cold[ib, 2] + 0.5 * cold[ib, 3] * x)
            d = pb - pa
            level = ia == ib or abs(d) < 1e-9 * (abs(pa) + abs(d))
            mean[j] = 0.5 * (fa + fb) if level else (gb - ga) / d
            fa = fb
            ga = gb
            ia = ib
            known = j + 1
    near = broadcast(0.0)
    far = near
    for j in range(0, n, LANES):
        piece = load(mean, j) * load(width, j)
        before = load(number, j) < peak
        near = near + select(before, piece, 0.0)
        far = far + select(before, 0.0, piece)
    return total(near), total(far)


@_inlined
def _blend(theta):
    """Weights of the three stages of a step (0, gamma, 1) in the parabola through them."""
    a = (theta - _GAMMA) * (theta - 1.0) * _FIRST
    b = theta * (theta - 1.0) * _SECOND
    return a, b, theta * (theta - _GAMMA) * _THIRD


@_inlined
def _within(a, b, c, x, y, z):
    """Value of the parabola through three stages, kept between them: where heat moves fast it would leave them."""
    return least(most(a * x + b * y + c * z, least(least(x, y), z)), most(most(x, y), z))


@_inlined
def _fronts(p0, pg, p1, a, b, c, n, depth, gap, span, level, backward, place):
    """Depths from a face where phi passes `level` at several ages, and the node before the last one.

    The whole depth where it nowhere does. The search starts at `place`, the node on the solid side last time, since a
    front moves little. Between the nodes phi is the line bent by the mean curvature of the neighbours on both sides;
    gap = 1 / (x[i+1] - x[i]) and span = 1 / (x[i+1] - x[i-1]) of the nodes. The march gives chords that hold the right
    heat, and phi is curved where it freezes: nodes lie beside the curve by h^2 phi'' / 24, which is taken off here.
    """
    step = -1 if backward else 1
    first = n - 1 if backward else 0
    beyond = -1 if backward else n
    i = place
    here = _within(a, b, c, p0[i], pg[i], p1[i])
    while i != first and movemask(here > level) != 0:
        i -= step
        here = _within(a, b, c, p0[i], pg[i], p1[i])
    sought = here <= level
    found = select(sought, abs(depth[n - 1] - depth[0]), broadcast(0.0))
    before = here
    if i != first:
        before = _within(a, b, c, p0[i - step], pg[i - step], p1[i - step])
    j = i + step
    there = here
    if j != beyond:
        there = _within(a, b, c, p0[j], pg[j], p1[j])
    while j != beyond and movemask(sought) != 0:
        k = j + step
        after = there
        if k != beyond:
            after = _within(a, b, c, p0[k], pg[k], p1[k])
        passed = sought & (there > level)
        if movemask(passed) != 0:
            h = abs(depth[j] - depth[i])
            rise = there - here
            limit = 0.4 * rise  # beyond that it is a kink and no curvature
            low = here
            high = there
            bend = broadcast(0.0)  # phi = low + rise u + bend u (u - 1)
            share = 1.0
            if i != first:
                half = (rise - (here - before) * (h * gap[min(i, i - step)])) * (h * span[i])
                low += least(most(half, 0.0 - limit), limit) * (1.0 / 12.0)
                bend += half
                share = 0.5
            if k != beyond:
                half = ((after - there) * (h * gap[min(j, k)]) - rise) * (h * span[j])
                high += least(most(half, 0.0 - limit), limit) * (1.0 / 12.0)
                bend += half
            else:
                share = 1.0
            # else the front has passed the node already
            passed = passed & ((high > level) | (after <= there))
            rise = high - low
            bend = least(most(bend * share, -0.5 * rise), 0.5 * rise)  # so that phi rises all the way
            ahead = most(level - low, 0.0)
            line = rise - bend
            u = least(2.0 * ahead / (line + sqrt(most(line * line + 4.0 * bend * ahead, 0.0))), 1.0)
            found = select(passed, abs(depth[i] - depth[first] + u * (depth[j] - depth[i])), found)
            sought = sought & (select(passed, 1.0, broadcast(0.0)) < 0.5)
        if movemask(sought) != 0:
            before = here
            here = there
            there = after
            i = j
            j = k
    return found, i


def work_space(nodes, levels):
    """Work space for a march of at most so many nodes, its rows at the borders of cache lines."""
    least = max(nodes + 1, 2 * levels, 64)  # a row holds the small sums of a march
    length = (least // LANES + 2) * LANES
    room = np.zeros(N_WORK * length + LANES)
    begin = -room.ctypes.data // 8 % LANES
    return room[begin : begin + N_WORK * length].reshape(N_WORK, length)


@_compiled
def march_batch(
    strands,
    node_offset,
    depth,
    conductance,
    weights,
    curved,
    turning,
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
    handed,
    centre_solidified,
    account,
    work,
):
    """March the strands ``strands[0] .. strands[1] - 1`` of a batch; all arrays of a batch lie end to end.

    Inputs, with B strands, N nodes, S sections, M samples and P kept sections in all:

    node_offset, section_offset, time_offset, profile_offset (B + 1), where each strand's share begins;
    depth, initial (N), conductance (2, N) face area over spacing, the last of each strand unused, at first and once
    the weights have turned; weights (8, N) of the half cells, four at first and four later; curved (B); turning (B, 3)
    equivalent solid fraction of the depth at which turning begins, one over its range (0: it never turns), and at the
    start; areas (B, 2) of both faces, which stay;
    table_of (B), table_offset and locator_offset (tables + 1), hot (rows, 5), cold (rows, 6), locator,
    tables (T, 9);
    ends (S), laws (S, 2, 2, N_LAW) of each face, what acts and what it turns into; s_rows, t_rows uniform rows over
    surface temperature and over time; source (k, n) over uniform times, one row for none; controls (B, 5) start,
    fixed step, tolerance in phi, first step, most steps; levels (B, L) of phi; n_sides (B); times (M);
    profile_times (P).

    Outputs: surface_out, flux_out, heat_out, solid_out (2, M), shell_out (2, L, M), centre_out (2, M) potential and
    depth of the hottest node, profile_out flat with one more row a strand for the final potentials and profile_start
    (B + 1) where each begins, booked (S, 2, mechanisms), handed (S) heat that had left what turning gave up,
    closure (B, 2, L), account (B, 10).

    A step is made with weights that stand still, those of its middle by what the solid fraction did in the step before:
    second order. They turn between two steps, at the same potentials, and never back.
    """
    surface_curves = (s_rows, s_starts, s_inverses)
    time_curves = (t_rows, t_starts, t_inverses)
    has_source = source.shape[0] > 1
    system = work[0:_KINDS].reshape((_KINDS * work.shape[1],))
    unwanted = work[_KINDS : 2 * _KINDS].reshape((_KINDS * work.shape[1],))
    p0, pg, p1, old0, oldg = work[16], work[17], work[18], work[19], work[20]
    e0, eg, base, energy, begun = work[21], work[22], work[23], work[24], work[25]
    r0, rg, r1 = work[26], work[27], work[28]
    link, width, number, gap, span = work[29], work[30], work[31], work[32], work[33]
    per_volume, sources, forced, spare = work[34], work[35], work[36], work[37]
    half = (work[38], work[39], work[40], work[41])
    nodes = (work[42], work[43], work[44], work[45], work[46], work[47])
    middles = (work[48], work[49], work[50], work[51], work[52], work[53])
    small = work[54]
    more_link, more = work[56], (work[57], work[58], work[59], work[60])
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
        bent = curved[strand]
        work[:] = 0.0
        nodes[1][:] = -np.inf  # no node is in its bin yet
        middles[1][:] = -np.inf
        frozen = turning[strand, 2]  # share of the depth, as equivalent solid
        turned = min(max((frozen - turning[strand, 0]) * turning[strand, 1], 0.0), 1.0)
        turns = turning[strand, 1] > 0.0 and turned < 1.0
        for i in range(last):
            j = i0 + i
            more_link[i] = conductance[1, j] - conductance[0, j]
            link[i] = conductance[0, j] + turned * more_link[i]
            for k in range(4):
                more[k][i] = weights[k + 4, j] - weights[k, j]
                half[k][i] = weights[k, j] + turned * more[k][i]
        area = areas[strand]
        k = table_of[strand]
        table = tables[k]
        steel = (
            hot[table_offset[k] : table_offset[k + 1]],
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
        place = work[55][: 2 * level.shape[0]].reshape((2, level.shape[0]))
        place[0, :] = 0.0
        place[1, :] = last
        volume = 0.0
        before = 0.0
        for i in range(n):
            own = before
            number[i] = i
            if i < last:
                width[i] = x[i + 1] - x[i]
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
            _assemble(p0, n, 0.0, base, link, bent, half, steel, nodes, middles, energy, system)
            for i in range(n):
                if side < 0:
                    begun[i] = energy[i]
                else:
                    heat[side] += e0[i] - energy[i]
                e0[i] = energy[i]
            if side >= 0:
                booked[s0, side, int(laws[s0, side, 0, 7])] += heat[side]
        # enthalpy with which the slice began of what has turned [J m-2], and of all that turning changes
        swept = 0.0
        sweeps = 0.0
        before = 0.0
        after = 0.0
        for i in range(n if turns else 0):
            own = before
            cell = after
            if i < last:
                own += more[0][i] + 0.5 * more[1][i]
                cell += half[0][i] + 0.5 * half[1][i]
                before = more[2][i] + 0.5 * more[3][i]
                after = half[2][i] + 0.5 * half[3][i]
            sweeps += own * begun[i] / cell
        growth = 0.0  # of that share [s-1]
        given = 0.0
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
            faces = 1 if _insulated(laws[section, 1]) else 2
            face[1] = 0.0
            face_slope[1] = 0.0
            q[:, 1] = 0.0
            parts[:, 1] = 0.0
            first_stage = 0  # the surface is the same on both sides of a zone border, its flux is not
            fresh = True  # no step from here on has been tried
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
                turn = 0.0
                if turns and fresh:
                    turn = (frozen + 0.5 * dt * growth - turning[strand, 0]) * turning[strand, 1]
                    turn = max(min(turn, 1.0) - turned, 0.0)
                    if turn > 0.0:
                        turned += turn
                        first_stage = 0
                        for j in range(0, n, LANES):
                            store(link, j, load(link, j) + turn * load(more_link, j))
                            for k in range(4):
                                store(half[k], j, load(half[k], j) + turn * load(more[k], j))
                fresh = False
                for stage in range(first_stage, 3):
                    phi = p0
                    rate = r0
                    when = t
                    if stage > 0:
                        # predicted: a parabola, a line or the last value
                        if stage == 1:
                            phi, rate, when = pg, rg, t + _GAMMA * dt
                            first, second, third = old0, oldg, p0  # stages of the step before
                            if order == 2:
                                a, b, d = _blend(1.0 + _GAMMA * dt / old_step)
                            else:
                                a = -_GAMMA * dt / old_step if order == 1 else 0.0
                                b, d = 0.0, 1.0 - a
                            known_e, known_r, u, v = e0, r0, 1.0, c
                        else:
                            phi, rate, when = p1, r1, new
                            first, second, third = old0, p0, pg  # start before, this start, this middle
                            if order == 2:
                                before = -old_step
                                after = _GAMMA * dt
                                a = (dt * (dt - after)) / (before * (before - after))
                                b = ((dt - before) * (dt - after)) / (-before * -after)
                                d = ((dt - before) * dt) / ((after - before) * after)
                            else:
                                a, b, d = 0.0, 1.0 - _FIRST, _FIRST
                            known_e, known_r, u, v = eg, e0, _B2, -_B1
                        for j in range(0, n, LANES):
                            store(phi, j, a * load(first, j) + b * load(second, j) + d * load(third, j))
                            store(base, j, u * load(known_e, j) + v * load(known_r, j))
                    right = base
                    if has_source:
                        u = (when - source_start) * source_inverse
                        k = min(max(int(u), 0), source.shape[0] - 2)
                        right = forced
                        for i in range(n):
                            sources[i] = source[k, i] + (u - k) * (source[k + 1, i] - source[k, i])
                            right[i] = base[i] + c * sources[i]
                    # at stage 0 what turning adds is counted
                    mass = more if stage == 0 and turn > 0.0 else half
                    counted = (stage == 0 and turn > 0.0) or (stage == 2 and (since_check >= 3 or dt == left))
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
                        for side in range(faces):
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
                        if counted or not solved:
                            # the error estimate still needs the factors of the last Newton step
                            into = unwanted if solved else system
                            _assemble(phi, n, c, right, link, bent, mass, steel, nodes, middles, energy, into)
                        if solved:
                            done = True
                            break
                        iterations += 1
                        for side in range(2):
                            i = 0 if side == 0 else last
                            system[_entry(i) + _CHANGE] -= face[side]
                            system[_entry(i) + _PIVOT] += face_slope[side]
                        _solve(n, system)
                        largest = broadcast(0.0)
                        for j in range(0, n, LANES):
                            p = load(phi, j)
                            d_p = load(system, _entry(j) + _CHANGE)
                            after = p + d_p
                            jumps = ((p < steep_low) & (after > steep_high)) | (
                                (p > steep_high) & (after < steep_low)
                            )
                            store(phi, j, select(jumps, 0.5 * (steep_low + steep_high), after))
                            largest = most(abs(d_p), largest)
                        moved = top(largest)
                        if not moved < 1e300:
                            break
                        solved = moved <= accept
                    solved = done
                    if not solved:
                        break
                    # rates at the accepted potentials
                    flow = broadcast(0.0)
                    for j in range(0, n, LANES):
                        ahead = load(link, j) * (load(phi, j + 1) - load(phi, j))
                        store(rate, j, ahead - shift_in(flow, ahead) + load(sources, j))
                        flow = ahead
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
                    if stage == 0 and turn > 0.0:
                        gained = broadcast(0.0)
                        for j in range(0, n, LANES):
                            gain = turn * load(energy, j)
                            store(e0, j, load(e0, j) + gain)
                            gained = gained + gain
                        swept += turn * sweeps
                        given += total(gained) - turn * sweeps
                        handed[section] += total(gained) - turn * sweeps
                    if stage == 1:
                        for j in range(0, n, LANES):
                            store(eg, j, load(base, j) + c * load(rate, j))
                first_stage = 1
                error = 0.0
                if solved and fixed_step <= 0.0:
                    # embedded estimate, damped by the last matrix
                    for j in range(0, n, LANES):
                        off = _E0 * load(r0, j) + _E1 * load(rg, j) + _E2 * load(r1, j)
                        store(system, _entry(j) + _CHANGE, dt * off)
                    allowed = tolerance
                    if min(face_slope[0], face_slope[1]) < 0.0:
                        allowed *= _RUNAWAY
                    elif freezing:
                        allowed *= _LATE
                    _solve(n, system)
                    largest = broadcast(0.0)
                    for j in range(0, n, LANES):
                        largest = most(abs(load(system, _entry(j) + _CHANGE)), largest)
                    error = top(largest) / allowed
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
                if wanted or turns:
                    for stage in range(2 if not wanted else (1 if known else 0), 3):
                        phi = p0 if stage == 0 else (pg if stage == 1 else p1)
                        solid[stage, 0], solid[stage, 1] = _solid(
                            phi,
                            n,
                            float(peak if stage > 0 else peak_before),
                            width,
                            number,
                            steel,
                            table[7],
                            table[8],
                            spare,
                        )
                known = wanted or turns
                if turns:
                    growth = ((solid[2, 0] + solid[2, 1]) / (x[last] - x[0]) - frozen) / dt
                    frozen = (solid[2, 0] + solid[2, 1]) / (x[last] - x[0])
                    turns = turned < 1.0
                while i_time < end_time and times[i_time] <= new:
                    count = 1  # samples that are taken at once
                    while count < LANES and i_time + count < end_time and times[i_time + count] <= new:
                        count += 1
                    theta = most((load_some(times, i_time, count) - t) / dt, 0.0)
                    a, b, d = _blend(theta)
                    s2 = theta * theta
                    s3 = s2 * theta
                    for side in range(sides):
                        i = 0 if side == 0 else last
                        for k in range(level.shape[0]):
                            found, place[side, k] = _fronts(
                                p0, pg, p1, a, b, d, n, x, gap, span, level[k], side == 1, int(place[side, k])
                            )
                            store_some(shell_out[side, k], i_time, found, count)
                        out = a * solid[0, side] + b * solid[1, side] + d * solid[2, side]
                        if sides == 1:
                            out += a * solid[0, 1] + b * solid[1, 1] + d * solid[2, 1]
                        store_some(solid_out[side], i_time, out, count)
                        out = (
                            (2.0 * s3 - 3.0 * s2 + 1.0) * heat[side]
                            + (3.0 * s2 - 2.0 * s3) * heat_new[side]
                            + (s3 - 2.0 * s2 + theta) * (dt * area[side] * q[0, side])
                            + (s3 - s2) * (dt * area[side] * q[2, side])
                        )
                        store_some(heat_out[side], i_time, out, count)
                        out = a * q[0, side] + b * q[1, side] + d * q[2, side]
                        store_some(flux_out[side], i_time, out, count)
                        store(spare, 0, a * p0[i] + b * pg[i] + d * p1[i])
                        for k in range(count):
                            i = i_time + k
                            temp, _ = _temperature(spare[k], steel)
                            surface_out[side, i] = temp
                            if laws[section, side, 0, 0] <= 0.0:
                                flux_out[side, i], _ = _surface(
                                    times[i], temp, laws[section, side], surface_curves, time_curves, scratch
                                )
                    store_some(centre_out[0], i_time, _within(a, b, d, p0[peak], pg[peak], p1[peak]), count)
                    store_some(centre_out[1], i_time, broadcast(x[peak]), count)
                    i_time += count
                while i_profile < end_profile and profile_times[i_profile] <= new:
                    a, b, d = _blend((profile_times[i_profile] - t) / dt)
                    for i in range(n):
                        profile_out[kept + i] = _within(a, b, d, p0[i], pg[i], p1[i])
                    kept += n
                    i_profile += 1
                for k in range(level.shape[0]):
                    if centre_solidified[strand, 0, k] < 0.0 and high <= level[k]:
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
                        centre_solidified[strand, 0, k] = t + after * dt
                        centre_solidified[strand, 1, k] = x[peak]
                        if 0 < peak < last:  # vertex of the parabola through the hottest node
                            a, b, d = _blend(after)
                            hottest = _within(a, b, d, p0[peak], pg[peak], p1[peak])
                            before = _within(a, b, d, p0[peak - 1], pg[peak - 1], p1[peak - 1])
                            after = _within(a, b, d, p0[peak + 1], pg[peak + 1], p1[peak + 1])
                            up = (hottest - before) * gap[peak - 1]
                            down = (after - hottest) * gap[peak]
                            if up > down:
                                centre_solidified[strand, 1, k] += (
                                    0.5 * (up / gap[peak] + down / gap[peak - 1]) / (up - down)
                                )
                # what would have predicted this step best predicts the next; a parabola unless fronts pass nodes
                order = 2
                if running:
                    u = dt / old_step
                    a, b, d = _blend(1.0 + u)
                    constant = broadcast(0.0)
                    straight = constant
                    parabola = constant
                    for j in range(0, n, LANES):
                        begin = load(p0, j)
                        lies = load(p1, j)
                        old = load(old0, j)
                        constant = most(abs(lies - begin), constant)
                        straight = most(abs(lies - begin - u * (begin - old)), straight)
                        parabola = most(abs(lies - a * old - b * load(oldg, j) - d * begin), parabola)
                    if top(parabola) > 1.5 * min(top(straight), top(constant)):
                        order = 1 if top(straight) <= top(constant) else 0
                running = True
                for j in range(0, n, LANES):
                    store(e0, j, load(base, j) + c * load(r1, j))
                    store(old0, j, load(p0, j))
                    store(oldg, j, load(pg, j))
                    store(p0, j, load(p1, j))
                    store(r0, j, load(r1, j))
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
                fresh = True
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
        marched += swept + given
        recounted += swept + given
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
