"""The march of a section in two dimensions: compiled loops on plain arrays, nothing else.

Unknown is the conduction potential phi = integral of k dT [W/m] at the nodes of a tensor grid, depth x below the wide
face by distance y from the narrow face, with nodes on the surfaces and on the planes of symmetry. Conduction is linear
in phi; the enthalpy of a cell is the table's H at its node times its volume. Time goes by TR-BDF2 with its embedded
error estimate and Newton's method, the linear equations by conjugate gradients with a modified incomplete
factorisation, and the enthalpy is updated by the fluxes between cells, so that heat lost equals heat removed to
round-off whatever the iterations leave.

Node (i, j), i along x and j along y, stands at j * nx + i. Up to three faces exchange heat: 0 at x = 0, 1 at y = 0 and
2 at the last x; the last y is always a plane of symmetry. Each face is divided into bands along it, each with laws of
its own; a row of laws has the columns of `solidify.solver.boundary.LAW`.

The laws of a surface and the look-up in the steel table are those of the slice, compiled in from
`solidify.solver.kernels`: the compiled cache does not notice a change there, so touch this file after one.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from solidify.solver.kernels import MAX_ITERATIONS, N_MECHANISMS, _find, _surface, _temperature

__all__ = ["ACCOUNT", "N_POINTS", "march_section"]

ACCOUNT = 14
"""Numbers that the account of a march holds."""

N_POINTS = 5
"""Surface points that are sampled: mid-faces 0, 1 and 2, corners of face 0 and of face 2."""

_GAMMA = 2.0 - math.sqrt(2.0)
_HALF = 0.5 * _GAMMA
_W = math.sqrt(2.0) / 4.0
_B2 = 1.0 / (_GAMMA * (2.0 - _GAMMA))
_B1 = (1.0 - _GAMMA) ** 2 * _B2
_E0 = _W - (1.0 - _W) / 3.0
_E1 = _W - (3.0 * _W + 1.0) / 3.0
_E2 = _HALF - _HALF / 3.0
_FIRST = 1.0 / _GAMMA
_SECOND = 1.0 / (_GAMMA * (_GAMMA - 1.0))
_THIRD = 1.0 / (1.0 - _GAMMA)

_MODIFIED = 0.97  # share of the fill-in of the factorisation that is moved to its pivots
_MAX_CG = 200
_CLOSE = 0.01  # corrections at which the linear equations of a Newton step count as solved, of the first
# shares of the tolerance where the flux rises as the surface cools, and while the centre freezes; longest step beside
# the age while it does
_RUNAWAY, _LATE, _LATE_STEP = 0.1, 0.4, 0.06

_OPTIONS: dict = {"nogil": True, "error_model": "numpy", "fastmath": {"contract", "reassoc", "nsz"}}
_LEAF = _OPTIONS | {"forceinline": True, "no_cpython_wrapper": True, "no_cfunc_wrapper": True}


def _compiled(function):
    """Compile with a cache on disk; without one where no folder can be written."""
    try:
        return njit(cache=True, **_OPTIONS)(function)
    except RuntimeError:
        return njit(**_OPTIONS)(function)


def _inlined(function):
    """Compile into the callers, as in `solidify.solver.kernels`."""
    return njit(**_LEAF)(function)


@_inlined
def _enthalpy(phi, n, steel, bins, value, slope):
    """Enthalpy [J m-3] at the nodes and its derivative by phi; each node keeps the bin it was in."""
    hot = steel[0]
    for k in range(n):
        p = phi[k]
        b = bins[k]
        if p >= hot[b + 1, 0] or (b > 0 and p < hot[b, 0]):
            b = _find(p, steel)
            bins[k] = b
        s = hot[b, 2]
        value[k] = hot[b, 1] + s * (p - hot[b, 0])
        slope[k] = s


@_inlined
def _node(face, m, nx, ny):
    """Number of the node m along a face."""
    if face == 0:
        return m * nx
    if face == 1:
        return m
    return m * nx + nx - 1


@_inlined
def _faces(t, phi, nx, ny, faces, width, steel, laws, share, s_curves, t_curves, part, flux, steep, booked):
    """Flux out of every surface node [W m-2], its derivative by phi, and the heat flow of each mechanism [W m-1]."""
    for face in range(faces):
        for k in range(N_MECHANISMS):
            booked[face, k] = 0.0
    for face in range(faces):
        length = nx if face == 1 else ny
        for m in range(length):
            temp, rise = _temperature(phi[_node(face, m, nx, ny)], steel)
            q = 0.0
            dq = 0.0
            for band in range(laws.shape[1]):
                own = share[face, band, m]
                if own > 0.0:
                    f, d = _surface(t, temp, laws[face, band], s_curves, t_curves, part)
                    q += own * f
                    dq += own * d
                    for k in range(N_MECHANISMS):
                        booked[face, k] += own * width[face, m] * part[k]
            flux[face, m] = q
            steep[face, m] = dq * rise


@_inlined
def _rates(phi, nx, ny, gx, gy, vx, vy, faces, width, flux, rate):
    """Heat that flows into every cell [W m-1]."""
    for j in range(ny):
        o = j * nx
        for i in range(nx):
            rate[o + i] = 0.0
        w = vy[j]
        for i in range(nx - 1):
            f = gx[i] * w * (phi[o + i + 1] - phi[o + i])
            rate[o + i] += f
            rate[o + i + 1] -= f
        if j > 0:
            g = gy[j - 1]
            for i in range(nx):
                f = g * vx[i] * (phi[o + i] - phi[o + i - nx])
                rate[o + i - nx] += f
                rate[o + i] -= f
    for face in range(faces):
        for m in range(nx if face == 1 else ny):
            rate[_node(face, m, nx, ny)] -= width[face, m] * flux[face, m]


@_inlined
def _factor(n, nx, diagonal, east, north, inverse):
    """Modified incomplete factorisation of the five-point matrix: the inverse pivots.

    `east` and `north` are the couplings (positive) of a node with the next along x and y, zero where there is none.
    """
    for k in range(n):
        d = diagonal[k]
        if k > 0:
            e = east[k - 1]
            d -= e * (e + _MODIFIED * north[k - 1]) * inverse[k - 1]
        if k >= nx:
            m = north[k - nx]
            d -= m * (m + _MODIFIED * east[k - nx]) * inverse[k - nx]
        inverse[k] = 1.0 / d


@_inlined
def _solve(n, nx, diagonal, east, north, inverse, right, x, z, p, ap, below, left, share):
    """Solve the five-point equations by conjugate gradients until corrections are `share` of the first.

    `right` is used up. Returns the number of iterations.
    """
    for k in range(n):
        x[k] = 0.0
    rho = 1.0
    accept = 0.0
    count = 0
    for iteration in range(_MAX_CG):
        # z = M^-1 r
        z[0] = right[0] * inverse[0]
        for k in range(1, nx):
            z[k] = (right[k] + left[k] * z[k - 1]) * inverse[k]
        for k in range(nx, n):
            z[k] = (right[k] + below[k] * z[k - nx] + left[k] * z[k - 1]) * inverse[k]
        for k in range(n - 2, n - nx - 1, -1):
            z[k] += east[k] * z[k + 1] * inverse[k]
        for k in range(n - nx - 1, -1, -1):
            z[k] += (east[k] * z[k + 1] + north[k] * z[k + nx]) * inverse[k]
        before = rho
        rho = 0.0
        largest = 0.0
        for k in range(n):
            rho += right[k] * z[k]
            largest = max(largest, abs(z[k]))
        count = iteration
        if iteration == 0:
            accept = share * largest
        if (iteration > 0 and largest <= accept) or largest == 0.0 or not largest < 1e300:
            for k in range(n):
                x[k] += z[k]
            break
        beta = rho / before if iteration > 0 else 0.0
        for k in range(n):
            p[k] = z[k] + beta * p[k]
        for k in range(nx):
            ap[k] = diagonal[k] * p[k] - north[k] * p[k + nx]
        for k in range(nx, n - nx):
            ap[k] = diagonal[k] * p[k] - north[k] * p[k + nx] - below[k] * p[k - nx]
        for k in range(n - nx, n):
            ap[k] = diagonal[k] * p[k] - below[k] * p[k - nx]
        for k in range(1, n - 1):
            ap[k] -= east[k] * p[k + 1] + left[k] * p[k - 1]
        ap[0] -= east[0] * p[1]
        ap[n - 1] -= left[n - 1] * p[n - 2]
        turned = 0.0
        for k in range(n):
            turned += p[k] * ap[k]
        alpha = rho / turned
        for k in range(n):
            x[k] += alpha * p[k]
            right[k] -= alpha * ap[k]
    return count


@_inlined
def _blend(theta):
    """Weights of the three stages of a step (0, gamma, 1) in the parabola through them."""
    a = (theta - _GAMMA) * (theta - 1.0) * _FIRST
    b = theta * (theta - 1.0) * _SECOND
    return a, b, theta * (theta - _GAMMA) * _THIRD


@_inlined
def _between(a, b, c, x, y, z):
    """Value of the parabola through three stages, kept between them."""
    v = a * x + b * y + c * z
    return min(max(v, min(x, min(y, z))), max(x, max(y, z)))


@_inlined
def _front(line, n, depth, level):
    """Depth from the first node at which phi first passes `level`; the whole depth where it nowhere does."""
    if line[0] > level:
        return 0.0
    for i in range(n - 1):
        if line[i + 1] > level:
            h = depth[i + 1] - depth[i]
            rise = line[i + 1] - line[i]
            bend = 0.0
            if i > 0:  # curvature on the solid side
                before = (line[i] - line[i - 1]) / (depth[i] - depth[i - 1])
                bend = (rise / h - before) * h * h / (depth[i + 1] - depth[i - 1])
                bend = min(max(bend, -0.4 * rise), 0.4 * rise)
            linear = rise - bend
            ahead = max(level - line[i], 0.0)
            u = 2.0 * ahead / (linear + math.sqrt(max(linear * linear + 4.0 * bend * ahead, 0.0)))
            return depth[i] + min(u, 1.0) * h
    return depth[n - 1]


@_compiled
def march_section(
    x,
    y,
    faces,
    hot,
    cold,
    locator,
    table,
    ends,
    laws,
    share,
    s_rows,
    s_starts,
    s_inverses,
    t_rows,
    t_starts,
    t_inverses,
    initial,
    controls,
    levels,
    times,
    keep_times,
    point_out,
    flux_out,
    centre_out,
    front_out,
    solid_out,
    heat_out,
    field_out,
    booked,
    centre_solidified,
    account,
):
    """March one section.

    Inputs: x (nx), y (ny) node depths from face 0 and from face 1 [m]; faces 2 or 3; hot, cold, locator and table
    (first, inverse, lowest and highest phi, Newton's share, both ends of the steepest freezing, where all is solid and
    where all is liquid, heat that a cell may leave open [J m-3]) of the steel; ends (S) of the sections of time [s];
    laws (S, faces, bands, 2, N_LAW); share (S, faces, bands, nodes along the face), which of a node's surface belongs
    to a band; rows of curves; initial (nx * ny) potentials; controls: fixed step, tolerance in phi, first step, most
    steps, iterations' share of the tolerance; levels (L) of phi; times (M), keep_times (K).

    Outputs: point_out (5, M) surface potentials, flux_out (3, M) at the mid-faces, centre_out (2, M) hottest potential
    and that at the middle of the section, front_out (3, L, M) from each mid-face inwards, solid_out (M) solid share of
    the section [m2], heat_out (3, M) [J/m], field_out (K + 1, nx * ny), booked (S, 3, mechanisms) [J/m],
    centre_solidified (L) [s], account (ACCOUNT).
    """
    nx = x.shape[0]
    ny = y.shape[0]
    n = nx * ny
    s_curves = (s_rows, s_starts, s_inverses)
    t_curves = (t_rows, t_starts, t_inverses)
    steel = (hot, cold, locator, table[0], table[1])
    vx = np.zeros(nx)
    vy = np.zeros(ny)
    gx = np.zeros(nx)
    gy = np.zeros(ny)
    for i in range(nx - 1):
        h = x[i + 1] - x[i]
        gx[i] = 1.0 / h
        vx[i] += 0.5 * h
        vx[i + 1] += 0.5 * h
    for j in range(ny - 1):
        h = y[j + 1] - y[j]
        gy[j] = 1.0 / h
        vy[j] += 0.5 * h
        vy[j + 1] += 0.5 * h
    most = max(nx, ny)
    width = np.zeros((faces, most))  # of each node's share of its face
    for face in range(faces):
        for m in range(nx if face == 1 else ny):
            width[face, m] = vx[m] if face == 1 else vy[m]
    volume = np.empty(n)
    link = np.zeros(n)  # sum of the conductances of a node
    to_east = np.zeros(n)
    to_north = np.zeros(n)
    for j in range(ny):
        for i in range(nx):
            k = j * nx + i
            volume[k] = vx[i] * vy[j]
            if i < nx - 1:
                to_east[k] = gx[i] * vy[j]
                link[k] += to_east[k]
                link[k + 1] += to_east[k]
            if j < ny - 1:
                to_north[k] = gy[j] * vx[i]
                link[k] += to_north[k]
                link[k + nx] += to_north[k]
    p0 = initial.copy()
    pg = initial.copy()
    p1 = initial.copy()
    old0 = initial.copy()
    oldg = initial.copy()
    sample = initial.copy()
    r0 = np.zeros(n)
    rg = np.zeros(n)
    r1 = np.zeros(n)
    base = np.zeros(n)
    eg = np.zeros(n)
    value = np.zeros(n)
    slope = np.zeros(n)
    diagonal = np.zeros(n)
    east = np.zeros(n)
    north = np.zeros(n)
    left = np.zeros(n)
    below = np.zeros(n)
    inverse = np.zeros(n)
    right = np.zeros(n)
    change = np.zeros(n)
    z = np.zeros(n)
    direction = np.zeros(n)
    product = np.zeros(n)
    bins = np.zeros(n, dtype=np.int64)
    flux = np.zeros((3, 3, most))
    steep = np.zeros((3, most))
    part = np.zeros(N_MECHANISMS)
    parts = np.zeros((3, 3, N_MECHANISMS))
    line = np.zeros(most)
    heat = np.zeros(3)
    rates = np.zeros((3, 3))  # of heat out of each face, by stage [W m-1]
    middle = nx - 1 if faces == 2 else (nx - 1) // 2
    centre = (ny - 1) * nx + middle
    _enthalpy(p0, n, steel, bins, value, slope)
    e0 = np.empty(n)
    for k in range(n):
        e0[k] = value[k] * volume[k]
    begun = e0.copy()
    tolerance = controls[1]
    first_step = controls[2]
    accept = min(controls[4] * tolerance, table[4])
    steep_low = table[5]
    steep_high = table[6]
    t = 0.0
    steps = 0
    rejected = 0
    iterations = 0
    inner = 0
    worst_table = 0.0
    status = 0
    i_time = 0
    i_keep = 0
    dt_next = first_step
    old_step = 1.0
    freezing = False
    for section in range(ends.shape[0]):
        end = ends[section]
        if not end > t:
            continue
        if t > 0.0:
            dt_next = min(dt_next, first_step)
        own_laws = laws[section]
        own_share = share[section]
        running = False
        order = 0
        first_stage = 0
        while t < end:
            left_time = end - t
            dt = controls[0] if controls[0] > 0.0 else dt_next
            if dt >= left_time * (1.0 - 1e-9):
                dt = left_time
            elif dt > 0.5 * left_time and controls[0] <= 0.0:
                dt = 0.5 * left_time
            if steps + rejected >= controls[3]:
                status = 2
                break
            new = end if dt == left_time else t + dt
            c = _HALF * dt
            solved = True
            runaway = False
            moved = 0.0
            for k in range(n):
                east[k] = c * to_east[k]
                north[k] = c * to_north[k]
            for k in range(1, n):
                left[k] = east[k - 1]
            for k in range(nx, n):
                below[k] = north[k - nx]
            for stage in range(first_stage, 4):
                if stage == 3 and (not solved or controls[0] > 0.0):
                    break
                phi, rate, when = p0, r0, t
                if stage == 1:
                    phi, rate, when = pg, rg, t + _GAMMA * dt
                    if order == 2:
                        a, b, d = _blend(1.0 + _GAMMA * dt / old_step)
                    else:
                        a = -_GAMMA * dt / old_step if order == 1 else 0.0
                        b, d = 0.0, 1.0 - a
                    for k in range(n):
                        pg[k] = a * old0[k] + b * oldg[k] + d * p0[k]
                        base[k] = e0[k] + c * r0[k]
                elif stage == 2:
                    phi, rate, when = p1, r1, new
                    if order == 2:
                        before = -old_step
                        after = _GAMMA * dt
                        a = (dt * (dt - after)) / (before * (before - after))
                        b = ((dt - before) * (dt - after)) / (-before * -after)
                        d = ((dt - before) * dt) / ((after - before) * after)
                    else:
                        a, b, d = 0.0, 1.0 - _FIRST, _FIRST
                    for k in range(n):
                        p1[k] = a * old0[k] + b * p0[k] + d * pg[k]
                        base[k] = _B2 * eg[k] - _B1 * e0[k]
                done = False
                solved = False
                for _ in range(MAX_ITERATIONS + 1):
                    close = _CLOSE
                    if stage < 3:
                        _faces(
                            when,
                            phi,
                            nx,
                            ny,
                            faces,
                            width,
                            steel,
                            own_laws,
                            own_share,
                            s_curves,
                            t_curves,
                            part,
                            flux[stage],
                            steep,
                            parts[stage],
                        )
                        _rates(phi, nx, ny, gx, gy, vx, vy, faces, width, flux[stage], rate)
                        _enthalpy(phi, n, steel, bins, value, slope)
                        open_heat = 0.0
                        for k in range(n):
                            right[k] = base[k] + c * rate[k] - value[k] * volume[k]
                            open_heat = max(open_heat, abs(right[k]) / volume[k])
                        if stage == 0 or (solved and open_heat <= table[9]):
                            done = True
                            break
                        iterations += 1
                        for k in range(n):
                            diagonal[k] = slope[k] * volume[k] + c * link[k]
                        for face in range(faces):
                            for m in range(nx if face == 1 else ny):
                                k = _node(face, m, nx, ny)
                                s = c * width[face, m] * steep[face, m]
                                if (
                                    s < 0.0
                                ):  # the flux rises as the surface cools: keep the matrix positive definite
                                    runaway = True
                                    s = max(s, -0.8 * slope[k] * volume[k])
                                diagonal[k] += s
                        _factor(n, nx, diagonal, east, north, inverse)
                    else:  # embedded estimate, damped by the last matrix
                        close = 0.1
                        for k in range(n):
                            right[k] = dt * (_E0 * r0[k] + _E1 * rg[k] + _E2 * r1[k])
                    inner += _solve(
                        n,
                        nx,
                        diagonal,
                        east,
                        north,
                        inverse,
                        right,
                        change,
                        z,
                        direction,
                        product,
                        below,
                        left,
                        close,
                    )
                    moved = 0.0
                    for k in range(n):
                        moved = max(moved, abs(change[k]))
                    if stage == 3:
                        done = True
                        break
                    if not moved < 1e300:
                        break
                    for k in range(n):
                        p = phi[k]
                        after = p + change[k]
                        if (p < steep_low and after > steep_high) or (p > steep_high and after < steep_low):
                            after = 0.5 * (steep_low + steep_high)
                        phi[k] = after
                    solved = moved <= accept
                solved = done
                if not solved:
                    break
                if stage == 1:
                    for k in range(n):
                        eg[k] = base[k] + c * rate[k]
            first_stage = 1
            error = 0.0
            if solved and controls[0] <= 0.0:
                error = moved / (tolerance * (_RUNAWAY if runaway else _LATE if freezing else 1.0))
            if not solved or error > 1.0 or error != error:
                rejected += 1
                if controls[0] > 0.0:
                    status = 1
                    break
                dt_next = (
                    dt * max(0.2, 0.65 * error ** (-1.0 / 3.0)) if solved and error == error else 0.25 * dt
                )
                if dt_next < 1e-9 * max(first_step, 1e-9 * end) or dt_next < 4e-16 * t:
                    status = 1
                    break
                continue
            steps += 1
            low = p1[0]
            high = p1[0]
            for k in range(n):
                low = min(low, p1[k])
                high = max(high, p1[k])
            if not (low > -1e300 and high < 1e300):
                status = 4
                break
            if low < table[2] or high > table[3]:
                status = 3
            # heat of the step, and what was asked for within it
            for stage in range(3):
                for face in range(faces):
                    rates[stage, face] = 0.0
                    for m in range(N_MECHANISMS):
                        rates[stage, face] += parts[stage, face, m]
            while i_time < times.shape[0] and times[i_time] <= new:
                theta = max((times[i_time] - t) / dt, 0.0)
                a, b, d = _blend(theta)
                hottest = -1e300
                for k in range(n):
                    sample[k] = _between(a, b, d, p0[k], pg[k], p1[k])
                    hottest = max(hottest, sample[k])
                solid = 0.0
                for k in range(n):
                    i_bin = _find(sample[k], steel)
                    f = cold[i_bin, 2] + cold[i_bin, 3] * (sample[k] - hot[i_bin, 0])
                    solid += volume[k] * min(max(f, 0.0), 1.0)
                solid_out[i_time] = solid
                centre_out[0, i_time] = hottest
                centre_out[1, i_time] = sample[centre]
                point_out[0, i_time] = sample[(ny - 1) * nx]
                point_out[1, i_time] = sample[middle]
                point_out[3, i_time] = sample[0]
                if faces == 3:
                    point_out[2, i_time] = sample[n - 1]
                    point_out[4, i_time] = sample[nx - 1]
                for face in range(faces):
                    if face == 1:
                        for j in range(ny):
                            line[j] = sample[j * nx + middle]
                        mid = middle
                    else:
                        mid = ny - 1
                        for i in range(nx):
                            line[i] = sample[(ny - 1) * nx + (i if face == 0 else nx - 1 - i)]
                    for k in range(levels.shape[0]):
                        if face == 1:
                            front_out[face, k, i_time] = _front(line, ny, y, levels[k])
                        elif face == 0:
                            front_out[face, k, i_time] = _front(line, nx, x, levels[k])
                        else:
                            for i in range(nx):
                                product[i] = x[nx - 1] - x[nx - 1 - i]
                            front_out[face, k, i_time] = _front(line, nx, product, levels[k])
                    flux_out[face, i_time] = (
                        a * flux[0, face, mid] + b * flux[1, face, mid] + d * flux[2, face, mid]
                    )
                    s2 = theta * theta
                    s3 = s2 * theta
                    gained = dt * (_W * (rates[0, face] + rates[1, face]) + _HALF * rates[2, face])
                    heat_out[face, i_time] = (
                        heat[face]
                        + (3.0 * s2 - 2.0 * s3) * gained
                        + (s3 - 2.0 * s2 + theta) * (dt * rates[0, face])
                        + (s3 - s2) * (dt * rates[2, face])
                    )
                i_time += 1
            while i_keep < keep_times.shape[0] and keep_times[i_keep] <= new:
                a, b, d = _blend(max((keep_times[i_keep] - t) / dt, 0.0))
                for k in range(n):
                    field_out[i_keep, k] = _between(a, b, d, p0[k], pg[k], p1[k])
                i_keep += 1
            for face in range(faces):
                for m in range(N_MECHANISMS):
                    share_of = dt * (_W * (parts[0, face, m] + parts[1, face, m]) + _HALF * parts[2, face, m])
                    booked[section, face, m] += share_of
                    heat[face] += share_of
            for k in range(levels.shape[0]):
                if centre_solidified[k] < 0.0 and high <= levels[k]:
                    before = 0.0
                    after = 1.0
                    for _ in range(40):
                        theta = 0.5 * (before + after)
                        a, b, d = _blend(theta)
                        hottest = -1e300
                        for i in range(n):
                            hottest = max(hottest, _between(a, b, d, p0[i], pg[i], p1[i]))
                        if hottest <= levels[k]:
                            after = theta
                        else:
                            before = theta
                    centre_solidified[k] = t + after * dt
            # what would have predicted this step best predicts the next
            order = 2
            if running:
                u = dt / old_step
                a, b, d = _blend(1.0 + u)
                constant = 0.0
                straight = 0.0
                parabola = 0.0
                for k in range(n):
                    constant = max(constant, abs(p1[k] - p0[k]))
                    straight = max(straight, abs(p1[k] - p0[k] - u * (p0[k] - old0[k])))
                    parabola = max(parabola, abs(p1[k] - a * old0[k] - b * oldg[k] - d * p0[k]))
                if parabola > 1.5 * min(straight, constant):
                    order = 1 if straight <= constant else 0
            running = True
            for k in range(n):
                e0[k] = base[k] + c * r1[k]
                old0[k] = p0[k]
                oldg[k] = pg[k]
                p0[k] = p1[k]
                r0[k] = r1[k]
            if steps % 4 == 0 or dt == left_time:
                _enthalpy(p0, n, steel, bins, value, slope)
                for k in range(n):
                    worst_table = max(worst_table, abs(value[k] - e0[k] / volume[k]))
            for face in range(faces):
                for m in range(most):
                    flux[0, face, m] = flux[2, face, m]
                for m in range(N_MECHANISMS):
                    parts[0, face, m] = parts[2, face, m]
            old_step = dt
            t = new
            if status != 0:
                break
            dt_next = dt * (2.0 if error <= 0.0 else min(2.0, 0.65 * error ** (-1.0 / 3.0)))
            freezing = table[7] < p0[centre] < table[8]
            if freezing:
                dt_next = min(dt_next, max(_LATE_STEP * t, 10.0 * first_step))
        if status != 0:
            break
    marched = 0.0
    recounted = 0.0
    _enthalpy(p0, n, steel, bins, value, slope)
    for k in range(n):
        marched += begun[k] - e0[k]
        recounted += begun[k] - value[k] * volume[k]
        field_out[keep_times.shape[0], k] = p0[k]
    account[0] = status
    account[1] = t
    account[2] = steps
    account[3] = rejected
    account[4] = iterations
    account[5] = inner
    account[6] = worst_table
    account[7] = marched
    account[8] = recounted
    for face in range(faces):
        account[9 + face] = heat[face]
