/* The march once more, by hand in C: what a compiler makes of the same scheme when nothing else is in its way.
 *
 * Twin of `march_batch` in solidify/kernels.py for faces that exchange heat: no fixed temperatures, no heat source, no
 * fixed step, no kept sections. Same tables, grids, laws, decisions and outputs; benchmarks/twin.py compiles it, feeds it
 * the arrays of a batch and holds it to the same numbers. A benchmark, never part of the package. */
#include <math.h>
#include <stdint.h>

#define RESTRICT __restrict__
#define INLINE static inline __attribute__((always_inline))
#define MIN(a, b) ((a) < (b) ? (a) : (b))
#define MAX(a, b) ((a) > (b) ? (a) : (b))
#define CLIP(v, low, high) MIN(MAX(v, low), high)

enum { LAWS = 20, MECHANISMS = 6, ITERATIONS = 20, ACCOUNT = 10, CONTROLS = 5, TABLE = 9, HOT = 5, COLD = 6 };

static const double SIGMA = 5.670374419e-8, KELVIN = 273.15;
static const double GAMMA = 0.58578643762690495120;        /* 2 - sqrt 2 */
static const double HALF = 0.29289321881345247560;         /* gamma / 2 */
static const double W = 0.35355339059327376220;            /* sqrt 2 / 4 */
static const double LATE = 0.5, RUNAWAY = 0.035, LATE_STEP = 0.06;

typedef struct { const double *rows, *starts, *inverses; int64_t points; } Curves;
typedef struct { const double *hot, *cold; const int64_t *locator; int64_t cells; double first, inverse; } Steel;
typedef struct { int64_t bin; double slope, value; } State;
typedef struct { double left, right, la, lb, ra, rb; } Cells;

INLINE int64_t find(double phi, const Steel *s) {
    double x = (phi - s->first) * s->inverse;
    int64_t cell = !(x > 0.0) ? 0 : (x >= s->cells - 1 ? s->cells - 1 : (int64_t)x);
    int64_t b = s->locator[cell];
    while (phi >= s->hot[HOT * (b + 1)]) b++;
    return b;
}

INLINE State state(double phi, const Steel *s) {
    int64_t b = find(phi, s);
    const double *h = s->hot + HOT * b;
    return (State){b, h[2], h[1] + h[2] * (phi - h[0])};
}

INLINE double temperature(double phi, const Steel *s, double *slope) {
    int64_t b = find(phi, s);
    const double *c = s->cold + COLD * b;
    *slope = c[1];
    return c[0] + c[1] * (phi - s->hot[HOT * b]);
}

INLINE double read_row(double x, int64_t row, const Curves *c, double *slope) {
    const double *v = c->rows + row * c->points;
    double u = (x - c->starts[row]) * c->inverses[row];
    *slope = 0.0;
    if (!(u > 0.0)) return v[0];
    if (u >= c->points - 1) return v[c->points - 1];
    int64_t i = (int64_t)u;
    double d = v[i + 1] - v[i];
    *slope = d * c->inverses[row];
    return v[i] + (u - i) * d;
}

INLINE double scaled(double factor, double temp, double row, const Curves *c, double *slope) {
    *slope = 0.0;
    if (factor == 0.0 || row < 0.0) return factor;
    double value = read_row(temp, (int64_t)row, c, slope);
    *slope *= factor;
    return factor * value;
}

/* Flux out of a face, its derivative by surface temperature, its parts by mechanism; the first of two laws acts, or turns
 * into the second, linearly in time. */
INLINE double surface(double t, double temp, const double *laws, const Curves *over_temp, const Curves *over_time,
                      double *part, double *slope_out) {
    for (int m = 0; m < MECHANISMS; m++) part[m] = 0.0;
    double slope = 0.0, turned = (t - laws[18]) * laws[19], total = 0.0, d;
    for (int k = 0; k < (laws[19] > 0.0 ? 2 : 1); k++) {
        const double *law = laws + k * LAWS;
        double weight = k ? turned : 1.0 - turned, q = law[1];
        if (law[2] != 0.0 || law[3] != 0.0) {
            double root = sqrt(MAX(t, 1e-12));
            q += law[2] * root + law[3] / root;
        }
        q = CLIP(q, law[4], law[5]);
        if (law[6] >= 0.0) q += read_row(t, (int64_t)law[6], over_time, &d);
        part[(int)law[7]] += weight * q;
        double dh, h = scaled(law[8], temp, law[9], over_temp, &dh), shone = 0.0;
        double sprayed = h * (temp - law[10]), steep = h + dh * (temp - law[10]);
        if (law[11] != 0.0) {
            double de, e = scaled(law[11], temp, law[12], over_temp, &de);
            double x = temp + KELVIN, a = law[13] + KELVIN, lift = x * x * x * x - a * a * a * a;
            shone = e * SIGMA * lift;
            steep += SIGMA * (4.0 * e * x * x * x + de * lift);
        }
        double blown = law[14] * (temp - law[13]), share = law[16] / (1.0 - law[16]);
        steep += law[14];
        double d_roll, roll = scaled(law[15], temp, law[17], over_temp, &d_roll);
        part[1] += weight * sprayed;
        part[2] += weight * shone;
        part[3] += weight * blown;
        part[4] += weight * (roll * (temp - law[13]) + share * (sprayed + shone + blown));
        slope += weight * (steep + roll + d_roll * (temp - law[13]) + share * steep);
    }
    for (int m = 0; m < MECHANISMS; m++) total += part[m];
    *slope_out = slope;
    return total;
}

/* Enthalpies of the two half cells between nodes i and i + 1 and their derivatives by both potentials. */
INLINE Cells half_cells(double pa, State a, double pb, State b, int64_t i, const double *const w[4], int curved,
                        const Steel *steel) {
    Cells r;
    const double *hot = steel->hot;
    double d = pb - pa, w0 = w[0][i], v0 = w[2][i], w1 = w[1][i], v1 = w[3][i];
    double sa = a.slope, sb = b.slope, ha = a.value, hb = b.value;
    int64_t apart = b.bin - a.bin;
    if (apart >= -1 && apart <= 1) {
        double kink = sb - sa, q = apart ? (pb - hot[HOT * MAX(a.bin, b.bin)]) / d : 0.0, p = MAX(q - 0.5, 0.0);
        double q2 = q * q, p2 = p * p, rise = kink * d;
        r.left = w0 * (ha + 0.25 * sa * d + rise * p2);
        r.right = v0 * (ha + 0.75 * sa * d + rise * (q2 - p2));
        r.la = w0 * (0.75 * sa + kink * (p + p2));
        r.lb = w0 * (0.25 * sa + kink * (p - p2));
        r.ra = v0 * (0.25 * sa + kink * (q2 - p - p2));
        r.rb = v0 * (0.75 * sa + kink * (2.0 * q - q2 - p + p2));
        if (curved) {
            double q3 = q2 * q * (2.0 / 3.0), p3 = p2 * p * (2.0 / 3.0);
            r.left += w1 * (0.5 * ha + sa * d * (1.0 / 6.0) + rise * (p2 - p3));
            r.right += v1 * (0.5 * ha + sa * d * (5.0 / 12.0) + rise * (q2 - q3 + p3));
            r.la += w1 * (sa * (1.0 / 3.0) + kink * (p - 2.0 * p3));
            r.lb += w1 * (sa * (1.0 / 6.0) + kink * (p - 2.0 * p2 + 2.0 * p3));
            r.ra += v1 * (sa * (1.0 / 12.0) + kink * (q2 - 2.0 * q3 + p2 + 2.0 * p3));
            r.rb += v1 * (sa * (5.0 / 12.0) + kink * (2.0 * q - 3.0 * q2 + 2.0 * q3 + p2 - 2.0 * p3));
        }
        return r;
    }
    const double *A = hot + HOT * a.bin, *B = hot + HOT * b.bin;
    double x = pa - A[0], y = pb - B[0];
    double ga = A[3] + x * (A[1] + 0.5 * sa * x), gb = B[3] + y * (B[1] + 0.5 * sb * y);
    State m = state(0.5 * (pa + pb), steel);
    const double *M = hot + HOT * m.bin;
    double hm = m.value, sm = m.slope, z = 0.5 * (pa + pb) - M[0];
    double gm = M[3] + z * (M[1] + 0.5 * sm * z), s = 2.0 / d, left = (gm - ga) * s, right = (gb - gm) * s;
    r.left = w0 * left;
    r.right = v0 * right;
    r.la = w0 * (0.5 * (hm + left) - ha) * s;
    r.lb = w0 * 0.5 * (hm - left) * s;
    r.ra = v0 * 0.5 * (right - hm) * s;
    r.rb = v0 * (hb - 0.5 * (hm + right)) * s;
    if (curved) {
        double km = M[4] + z * (M[3] + z * (0.5 * M[1] + sm * z * (1.0 / 6.0)));
        double ka = A[4] + x * (A[3] + x * (0.5 * A[1] + sa * x * (1.0 / 6.0)));
        double kb = B[4] + y * (B[3] + y * (0.5 * B[1] + sb * y * (1.0 / 6.0)));
        double fl = (gm - (km - ka) * s) * s, fr = (gb - (kb - km) * s) * s;
        double flb = 0.5 * (hm - 2.0 * fl) * s, fra = 0.5 * (2.0 * fr - right) * s;
        r.left += w1 * fl;
        r.right += v1 * fr;
        r.la += w1 * ((2.0 * fl - left) * s + flb);
        r.lb += w1 * flb;
        r.ra += v1 * fra;
        r.rb += v1 * (fra + (hb - 2.0 * fr) * s);
    }
    return r;
}

static void enthalpy(const double *RESTRICT phi, int64_t n, int curved, const double *const w[4], const Steel *steel,
                     double *RESTRICT energy) {
    State a = state(phi[0], steel);
    double own = 0.0;
    for (int64_t i = 0; i < n - 1; i++) {
        State b = state(phi[i + 1], steel);
        Cells r = half_cells(phi[i], a, phi[i + 1], b, i, w, curved, steel);
        energy[i] = own + r.left;
        own = r.right;
        a = b;
    }
    energy[n - 1] = own;
}

/* One Newton step, the matrix built and eliminated as the enthalpy is read; returns the largest change. */
INLINE double newton(const double *RESTRICT phi, int64_t n, double c, const double *RESTRICT base,
                     const double *RESTRICT conductance, int curved, const double *const w[4], const Steel *steel,
                     const double face[2], const double face_slope[2], double *RESTRICT lower, double *RESTRICT pivot,
                     double *RESTRICT factor, double *RESTRICT change) {
    double pa = phi[0], own = face[0], own_d = face_slope[0], flow = 0.0, link = 0.0, low = 0.0, y = 0.0, f = 0.0;
    State a = state(pa, steel);
    for (int64_t i = 0; i < n - 1; i++) {
        double pb = phi[i + 1];
        State b = state(pb, steel);
        Cells r = half_cells(pa, a, pb, b, i, w, curved, steel);
        double residual = base[i] - (own + r.left) - flow, diagonal = own_d + r.la + link;
        link = c * conductance[i];
        flow = link * (pb - pa);
        double below = 1.0 / (diagonal + link - low * f);
        y = (residual + flow - low * y) * below;
        f = (r.lb - link) * below;
        lower[i] = low * below;
        pivot[i] = below;
        factor[i] = f;
        change[i] = y;
        low = r.ra - link;
        own = r.right;
        own_d = r.rb;
        pa = pb;
        a = b;
    }
    double below = 1.0 / (own_d + face_slope[1] + link - low * f);
    lower[n - 1] = low * below;
    pivot[n - 1] = below;
    y = (base[n - 1] - (own + face[1]) - flow - low * y) * below;
    change[n - 1] = y;
    double largest = fabs(y);
    for (int64_t i = n - 2; i >= 0; i--) {
        y = change[i] - factor[i] * y;
        change[i] = y;
        largest = MAX(largest, fabs(y));
    }
    return largest;
}

INLINE double substitute(int64_t n, const double *lower, const double *pivot, const double *factor, double *change) {
    double y = 0.0;
    for (int64_t i = 0; i < n; i++) change[i] = y = change[i] * pivot[i] - lower[i] * y;
    double largest = fabs(y);
    for (int64_t i = n - 2; i >= 0; i--) {
        change[i] = y = change[i] - factor[i] * y;
        largest = MAX(largest, fabs(y));
    }
    return largest;
}

INLINE void solid_parts(const double *phi, int64_t n, int64_t peak, const double *x, const Steel *s, double solidus,
                        double liquidus, double out[2]) {
    double near = 0.0, far = 0.0, fa = 0.0, ga = 0.0;
    int64_t known = -1, ia = 0;
    for (int64_t i = 0; i < n - 1; i++) {
        double pa = phi[i], pb = phi[i + 1], mean;
        if (MAX(pa, pb) <= solidus) mean = 1.0;
        else if (MIN(pa, pb) >= liquidus) mean = 0.0;
        else {
            if (known != i) {
                ia = find(pa, s);
                const double *k = s->cold + COLD * ia;
                double u = pa - s->hot[HOT * ia];
                fa = k[2] + k[3] * u;
                ga = k[4] + u * (k[2] + 0.5 * k[3] * u);
            }
            int64_t ib = find(pb, s);
            const double *k = s->cold + COLD * ib;
            double u = pb - s->hot[HOT * ib], fb = k[2] + k[3] * u, gb = k[4] + u * (k[2] + 0.5 * k[3] * u);
            double d = pb - pa;
            mean = ia == ib || fabs(d) < 1e-9 * (fabs(pa) + fabs(d)) ? 0.5 * (fa + fb) : (gb - ga) / d;
            fa = fb;
            ga = gb;
            ia = ib;
            known = i + 1;
        }
        double piece = mean * (x[i + 1] - x[i]);
        if (i < peak) near += piece;
        else far += piece;
    }
    out[0] = near;
    out[1] = far;
}

INLINE void blend(double theta, double *a, double *b, double *c) {
    *a = (theta - GAMMA) * (theta - 1.0) * (1.0 / GAMMA);
    *b = theta * (theta - 1.0) * (1.0 / (GAMMA * (GAMMA - 1.0)));
    *c = theta * (theta - GAMMA) * (1.0 / (1.0 - GAMMA));
}

INLINE double within(double a, double b, double c, double x, double y, double z) {
    double v = a * x + b * y + c * z;
    return CLIP(v, MIN(MIN(x, y), z), MAX(MAX(x, y), z));
}

typedef struct { const double *p0, *pg, *p1, *x, *gap, *span; int64_t n; } Step;
#define AT(i) within(a, b, c, s->p0[i], s->pg[i], s->p1[i])

INLINE double front(const Step *s, double a, double b, double c, double level, int backward, double *place) {
    int64_t step = backward ? -1 : 1, first = backward ? s->n - 1 : 0, beyond = backward ? -1 : s->n;
    int64_t i = (int64_t)*place, j, k;
    const double *x = s->x;
    double here = AT(i), there, low, high, h, rise, bend, sides;
    while (here > level) {
        if (i == first) { *place = i; return 0.0; }
        i -= step;
        here = AT(i);
    }
    there = here;
    for (j = i + step; j != beyond; j += step) {
        there = AT(j);
        if (there > level) break;
        here = there;
        i = j;
    }
    if (j == beyond) { *place = i; return fabs(x[s->n - 1] - x[0]); }
    for (;;) {
        h = fabs(x[j] - x[i]);
        rise = there - here;
        low = here;
        high = there;
        bend = sides = 0.0;
        double after = there, most = 0.4 * rise;
        if (i != first) {
            k = i - step;
            double before = AT(k), half = (rise - (here - before) * (h * s->gap[MIN(i, k)])) * (h * s->span[i]);
            low += CLIP(half, -most, most) * (1.0 / 12.0);
            bend += half;
            sides += 1.0;
        }
        if (j + step != beyond) {
            k = j + step;
            after = AT(k);
            double half = ((after - there) * (h * s->gap[MIN(j, k)]) - rise) * (h * s->span[j]);
            high += CLIP(half, -most, most) * (1.0 / 12.0);
            bend += half;
            sides += 1.0;
        }
        if (high > level || !(after > there)) break;
        here = there;
        there = after;
        i = j;
        j += step;
    }
    rise = high - low;
    bend /= MAX(sides, 1.0);
    bend = CLIP(bend, -0.5 * rise, 0.5 * rise);
    double left = MAX(level - low, 0.0), linear = rise - bend;
    double u = 2.0 * left / (linear + sqrt(MAX(linear * linear + 4.0 * bend * left, 0.0)));
    *place = i;
    return fabs(x[i] + MIN(u, 1.0) * (x[j] - x[i]) - x[first]);
}

/* shape: nodes of all strands, samples of all, levels, points of a row over temperature, of one over time, of work */
void march(const int64_t *shape, const int64_t *strands, const int64_t *node_offset, const double *depth,
           const double *conductance, const double *weights, const uint8_t *curved, const double *areas,
           const int64_t *table_of, const int64_t *table_offset, const double *hot, const double *cold,
           const int64_t *locator_offset, const int64_t *locator, const double *tables, const int64_t *section_offset,
           const double *ends, const double *laws, const double *s_rows, const double *s_starts,
           const double *s_inverses, const double *t_rows, const double *t_starts, const double *t_inverses,
           const double *initial, const double *controls, const double *levels, const int64_t *n_sides,
           const int64_t *time_offset, const double *times, double *surface_out, double *flux_out, double *heat_out,
           double *shell_out, double *solid_out, double *centre_out, const int64_t *profile_start, double *profile_out,
           double *booked, double *closure, double *account, double *work) {
    int64_t nodes = shape[0], samples = shape[1], n_levels = shape[2];
    Curves over_temp = {s_rows, s_starts, s_inverses, shape[3]}, over_time = {t_rows, t_starts, t_inverses, shape[4]};
    double *row[23];
    for (int i = 0; i < 23; i++) row[i] = work + i * shape[5];
    double *p0 = row[0], *pg = row[1], *p1 = row[2], *old0 = row[3], *oldg = row[4], *e0 = row[5], *eg = row[6];
    double *base = row[7], *energy = row[8], *begun = row[9], *r0 = row[10], *rg = row[11], *r1 = row[12];
    double *lower = row[13], *pivot = row[14], *factor = row[15], *change = row[16];
    double *gap = row[17], *span = row[18], *per_volume = row[19], *places = row[22];
    const double B2 = 1.0 / (GAMMA * (2.0 - GAMMA)), B1 = (1.0 - GAMMA) * (1.0 - GAMMA) * B2;
    const double E0 = W - (1.0 - W) / 3.0, E1 = W - (3.0 * W + 1.0) / 3.0, E2 = HALF - HALF / 3.0;
    for (int64_t strand = strands[0]; strand < strands[1]; strand++) {
        int64_t i0 = node_offset[strand], n = node_offset[strand + 1] - i0, last = n - 1, k = table_of[strand];
        const double *x = depth + i0, *link = conductance + i0, *area = areas + 2 * strand, *table = tables + TABLE * k;
        const double *w[4] = {weights + i0, weights + nodes + i0, weights + 2 * nodes + i0, weights + 3 * nodes + i0};
        const double *level = levels + strand * n_levels, *control = controls + CONTROLS * strand;
        Steel steel = {hot + HOT * table_offset[k], cold + COLD * table_offset[k], locator + locator_offset[k],
                       locator_offset[k + 1] - locator_offset[k], table[0], table[1]};
        int bent = curved[strand], sides = (int)n_sides[strand];
        double t = control[0], tolerance = control[2], first_step = control[3], accept = MIN(0.05 * tolerance, table[4]);
        double parts[3][2][MECHANISMS] = {{{0}}}, scratch[MECHANISMS], q[3][2] = {{0}}, heat[2] = {0}, heat_new[2];
        double solid[3][2] = {{0}}, face[2], face_slope[2], volume = 0.0, before = 0.0, start = t;
        double *shut = closure + 2 * n_levels * strand;
        for (int64_t i = 0; i < n_levels; i++) { places[i] = 0.0; places[n_levels + i] = (double)last; }
        for (int64_t i = 0; i < n; i++) {
            double own = before;
            if (i < last) {
                gap[i] = 1.0 / (x[i + 1] - x[i]);
                own += w[0][i] + 0.5 * w[1][i];
                before = w[2][i] + 0.5 * w[3][i];
            }
            if (i > 0 && i < last) span[i] = 1.0 / (x[i + 1] - x[i - 1]);
            per_volume[i] = own;
            volume += own;
            p0[i] = initial[i0 + i];
        }
        for (int64_t i = 0; i < n; i++) per_volume[i] = 1.0 / MAX(per_volume[i], 0.1 * volume / n);
        enthalpy(p0, n, bent, w, &steel, energy);
        for (int64_t i = 0; i < n; i++) begun[i] = e0[i] = energy[i];
        int64_t steps = 0, rejected = 0, iterations = 0, i_time = time_offset[strand], end_time = time_offset[strand + 1];
        int64_t peak = last;
        int since_check = 0, freezing = 0, known = 0, status = 0;
        double worst_table = 0.0, old_step = 0.0, dt_next = first_step, a, b, d, unused;
        for (int64_t section = section_offset[strand]; section < section_offset[strand + 1] && !status; section++) {
            double end = ends[section];
            const double *law[2] = {laws + 4 * LAWS * section, laws + (4 * section + 2) * LAWS};
            if (!(end > t)) continue;
            if (t > start) dt_next = MIN(dt_next, first_step);
            int order = 0, running = 0, first_stage = 0;
            while (t < end && !status) {
                double left = end - t, dt = dt_next;
                if (dt >= left * (1.0 - 1e-9)) dt = left;
                else if (dt > 0.5 * left) dt = 0.5 * left;
                if (steps + rejected >= control[4]) { status = 2; break; }
                double new = dt == left ? end : t + dt, c = HALF * dt;
                int solved = 0;
                for (int stage = first_stage; stage < 3; stage++) {
                    double *phi = p0, *rate = r0, when = t;
                    if (stage == 1) {
                        phi = pg;
                        rate = rg;
                        when = t + GAMMA * dt;
                        if (order == 2) {
                            blend(1.0 + GAMMA * dt / old_step, &a, &b, &d);
                            for (int64_t i = 0; i < n; i++) phi[i] = a * old0[i] + b * oldg[i] + d * p0[i];
                        } else {
                            a = order == 1 ? GAMMA * dt / old_step : 0.0;
                            for (int64_t i = 0; i < n; i++) phi[i] = p0[i] + a * (p0[i] - old0[i]);
                        }
                        for (int64_t i = 0; i < n; i++) base[i] = e0[i] + c * r0[i];
                    } else if (stage == 2) {
                        phi = p1;
                        rate = r1;
                        when = new;
                        if (order == 2) {
                            double u = -old_step, v = GAMMA * dt;
                            a = (dt * (dt - v)) / (u * (u - v));
                            b = ((dt - u) * (dt - v)) / (-u * -v);
                            d = ((dt - u) * dt) / ((v - u) * v);
                            for (int64_t i = 0; i < n; i++) phi[i] = a * old0[i] + b * p0[i] + d * pg[i];
                        } else {
                            for (int64_t i = 0; i < n; i++) phi[i] = p0[i] + (pg[i] - p0[i]) / GAMMA;
                        }
                        for (int64_t i = 0; i < n; i++) base[i] = B2 * eg[i] - B1 * e0[i];
                    }
                    int counted = stage == 2 && (since_check >= 3 || dt == left), done = 0;
                    solved = stage == 0;
                    for (int turn = 0; turn <= ITERATIONS; turn++) {
                        for (int side = 0; side < 2; side++) {
                            double rise, slope, temp = temperature(phi[side ? last : 0], &steel, &rise);
                            q[stage][side] =
                                surface(when, temp, law[side], &over_temp, &over_time, parts[stage][side], &slope);
                            face[side] = c * area[side] * q[stage][side];
                            face_slope[side] = c * area[side] * slope * rise;
                        }
                        if (solved) { done = 1; break; }
                        iterations++;
                        double largest = newton(phi, n, c, base, link, bent, w, &steel, face, face_slope, lower, pivot,
                                                factor, change);
                        for (int64_t i = 0; i < n; i++) {
                            double from = phi[i], to = from + change[i];
                            if ((from < table[5] && to > table[6]) || (from > table[6] && to < table[5]))
                                to = 0.5 * (table[5] + table[6]);
                            phi[i] = to;
                        }
                        if (!(largest < 1e300)) break;
                        solved = largest <= accept;
                    }
                    solved = done;
                    if (!solved) break;
                    double flow = 0.0;
                    for (int64_t i = 0; i < last; i++) {
                        double ahead = link[i] * (phi[i + 1] - phi[i]);
                        rate[i] = ahead - flow;
                        flow = ahead;
                    }
                    rate[last] = -flow;
                    if (counted) enthalpy(phi, n, bent, w, &steel, energy);
                    rate[0] -= area[0] * q[stage][0];
                    rate[last] -= area[1] * q[stage][1];
                    if (stage == 1)
                        for (int64_t i = 0; i < n; i++) eg[i] = base[i] + c * rate[i];
                }
                first_stage = 1;
                double error = 0.0;
                if (solved) {
                    for (int64_t i = 0; i < n; i++) change[i] = dt * (E0 * r0[i] + E1 * rg[i] + E2 * r1[i]);
                    double allowed = tolerance;
                    if (MIN(face_slope[0], face_slope[1]) < 0.0) allowed *= RUNAWAY;
                    else if (freezing) allowed *= LATE;
                    error = substitute(n, lower, pivot, factor, change) / allowed;
                }
                if (!solved || error > 1.0) {
                    rejected++;
                    dt_next = solved ? dt * MAX(0.2, 0.65 * pow(error, -1.0 / 3.0)) : 0.25 * dt;
                    if (dt_next < 1e-9 * MAX(first_step, 1e-9 * end) || dt_next < 4e-16 * t) status = 1;
                    continue;
                }
                steps++;
                double low = p1[0], high = p1[0];
                int64_t peak_before = peak;
                peak = 0;
                for (int64_t i = 1; i < n; i++) {
                    low = MIN(low, p1[i]);
                    if (p1[i] >= high) { high = p1[i]; peak = i; }
                }
                if (!(low > -1e300 && high < 1e300)) { status = 4; break; }
                if (low < table[2] || high > table[3]) status = 3;
                for (int side = 0; side < 2; side++) {
                    double share = area[side] * dt;
                    heat_new[side] = heat[side] + share * (W * (q[0][side] + q[1][side]) + HALF * q[2][side]);
                    for (int m = 0; m < MECHANISMS; m++)
                        booked[(section * 2 + side) * MECHANISMS + m] +=
                            share * (W * (parts[0][side][m] + parts[1][side][m]) + HALF * parts[2][side][m]);
                }
                int wanted = i_time < end_time && times[i_time] <= new;
                if (wanted)
                    for (int stage = known ? 1 : 0; stage < 3; stage++)
                        solid_parts(stage == 0 ? p0 : stage == 1 ? pg : p1, n, stage ? peak : peak_before, x, &steel,
                                    table[7], table[8], solid[stage]);
                known = wanted;
                Step step = {p0, pg, p1, x, gap, span, n};
                for (; i_time < end_time && times[i_time] <= new; i_time++) {
                    double theta = (times[i_time] - t) / dt, s2 = theta * theta, s3 = s2 * theta;
                    blend(theta, &a, &b, &d);
                    for (int side = 0; side < sides; side++) {
                        int64_t i = side ? last : 0, at = side * samples + i_time;
                        double temp = temperature(a * p0[i] + b * pg[i] + d * p1[i], &steel, &unused);
                        surface_out[at] = temp;
                        flux_out[at] =
                            surface(times[i_time], temp, law[side], &over_temp, &over_time, scratch, &unused);
                        heat_out[at] = (2.0 * s3 - 3.0 * s2 + 1.0) * heat[side] + (3.0 * s2 - 2.0 * s3) * heat_new[side] +
                                       dt * area[side] * ((s3 - 2.0 * s2 + theta) * q[0][side] + (s3 - s2) * q[2][side]);
                        double value = a * solid[0][side] + b * solid[1][side] + d * solid[2][side];
                        if (sides == 1) value += a * solid[0][1] + b * solid[1][1] + d * solid[2][1];
                        solid_out[at] = value;
                        for (int64_t l = 0; l < n_levels; l++)
                            shell_out[(side * n_levels + l) * samples + i_time] =
                                front(&step, a, b, d, level[l], side == 1, places + side * n_levels + l);
                    }
                    centre_out[i_time] = within(a, b, d, p0[peak], pg[peak], p1[peak]);
                    centre_out[samples + i_time] = x[peak];
                }
                for (int64_t l = 0; l < n_levels; l++) {
                    if (!(shut[l] < 0.0 && high <= level[l])) continue;
                    double from = 0.0, to = 1.0;
                    for (int turn = 0; turn < 50; turn++) {
                        double theta = 0.5 * (from + to), hottest = -1e300;
                        blend(theta, &a, &b, &d);
                        for (int64_t i = 0; i < n; i++) hottest = MAX(hottest, within(a, b, d, p0[i], pg[i], p1[i]));
                        if (hottest <= level[l]) to = theta;
                        else from = theta;
                    }
                    shut[l] = t + to * dt;
                    shut[n_levels + l] = x[peak];
                    if (peak > 0 && peak < last) {
                        blend(to, &a, &b, &d);
                        double hottest = within(a, b, d, p0[peak], pg[peak], p1[peak]);
                        double up = hottest - within(a, b, d, p0[peak - 1], pg[peak - 1], p1[peak - 1]);
                        double down = within(a, b, d, p0[peak + 1], pg[peak + 1], p1[peak + 1]) - hottest;
                        up *= gap[peak - 1];
                        down *= gap[peak];
                        if (up > down)
                            shut[n_levels + l] += 0.5 * (up / gap[peak] + down / gap[peak - 1]) / (up - down);
                    }
                }
                order = 2;
                if (running) {
                    double u = dt / old_step, constant = 0.0, straight = 0.0, parabola = 0.0;
                    blend(1.0 + u, &a, &b, &d);
                    for (int64_t i = 0; i < n; i++) {
                        double v0 = fabs(p1[i] - p0[i]), v1 = fabs(p1[i] - p0[i] - u * (p0[i] - old0[i]));
                        double v2 = fabs(p1[i] - a * old0[i] - b * oldg[i] - d * p0[i]);
                        constant = MAX(constant, v0);
                        straight = MAX(straight, v1);
                        parabola = MAX(parabola, v2);
                    }
                    if (parabola > 1.5 * MIN(straight, constant)) order = straight <= constant ? 1 : 0;
                }
                running = 1;
                for (int64_t i = 0; i < n; i++) {
                    e0[i] = base[i] + c * r1[i];
                    old0[i] = p0[i];
                    oldg[i] = pg[i];
                    p0[i] = p1[i];
                    r0[i] = r1[i];
                }
                if (++since_check >= 4 || dt == left) {
                    since_check = 0;
                    for (int64_t i = 0; i < n; i++)
                        worst_table = MAX(worst_table, fabs(energy[i] - e0[i]) * per_volume[i]);
                }
                for (int side = 0; side < 2; side++) {
                    heat[side] = heat_new[side];
                    q[0][side] = q[2][side];
                    solid[0][side] = solid[2][side];
                    for (int m = 0; m < MECHANISMS; m++) parts[0][side][m] = parts[2][side][m];
                }
                old_step = dt;
                t = new;
                if (status) break;
                dt_next = dt * (error <= 0.0 ? 2.0 : MIN(2.0, 0.65 * pow(error, -1.0 / 3.0)));
                freezing = table[7] < p0[peak] && p0[peak] < table[8];
                if (freezing) dt_next = MIN(dt_next, MAX(LATE_STEP * t, 10.0 * first_step));
            }
        }
        double marched = 0.0, recounted = 0.0, *kept = profile_out + profile_start[strand + 1] - n;
        for (int64_t i = 0; i < n; i++) {
            kept[i] = p0[i];
            marched += begun[i] - e0[i];
            recounted += begun[i] - energy[i];
        }
        double said[ACCOUNT] = {status, t, steps, rejected, iterations, worst_table, heat[0], heat[1], marched, recounted};
        for (int i = 0; i < ACCOUNT; i++) account[ACCOUNT * strand + i] = said[i];
    }
}
