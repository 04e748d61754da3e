/* The march once more, by hand in C++ and its vectors: what a compiler makes of the same scheme when nothing else is in
 * its way.
 *
 * Twin of `march_batch` in solidify/solver/kernels.py for faces that exchange heat: no fixed temperatures, no heat source, no
 * fixed step, no kept sections. Same tables, grids, laws, decisions and outputs; benchmarks/marched.py compiles it, feeds it
 * the arrays of a batch and holds it to the same numbers. A benchmark, never part of the package. */
#include <initializer_list>
#include <math.h>
#include <stdint.h>

#define RESTRICT __restrict__
#define INLINE static inline __attribute__((always_inline))
#define MIN(a, b) ((a) < (b) ? (a) : (b))
#define MAX(a, b) ((a) > (b) ? (a) : (b))
#define CLIP(v, low, high) MIN(MAX(v, low), high)

enum { LAWS = 21, MECHANISMS = 6, ITERATIONS = 20, ACCOUNT = 10, CONTROLS = 5, TABLE = 9, HOT = 5, COLD = 6, WORK = 61, TURNING = 3 };
#ifndef LANES
#define LANES 8
#endif

/* Numbers and flags side by side, as in solidify/solver/simd.py; a flag is all bits or none. */
typedef double X __attribute__((vector_size(8 * LANES), aligned(8), may_alias));
typedef int64_t Q __attribute__((vector_size(8 * LANES)));
#define LOAD(row, i) (*(const X *)((row) + (i)))
#define STORE(row, i, x) (*(X *)((row) + (i)) = (x))
#define EACH for (int lane = 0; lane < LANES; lane++)

static const double SIGMA = 5.670374419e-8, KELVIN = 273.15;
static const double GAMMA = 0.58578643762690495120;        /* 2 - sqrt 2 */
static const double HALF = 0.29289321881345247560;         /* gamma / 2 */
static const double W = 0.35355339059327376220;            /* sqrt 2 / 4 */
static const double LATE = 0.5, RUNAWAY = 0.035, LATE_STEP = 0.06;

typedef struct { const double *rows, *starts, *inverses; int64_t points; } Curves;
typedef struct { const double *hot, *cold; const int32_t *locator; int64_t cells; double first, inverse; } Steel;
typedef struct { double *low, *high, *value, *slope, *first, *second; } Bins;

/* What belongs to the equation of a node, LANES of a kind side by side; the eighth kind is room. */
enum { BELOW = 0, PIVOT = LANES, ABOVE = 2 * LANES, PRODUCT = 3 * LANES, CHANGE = 4 * LANES, FACTOR = 5 * LANES,
       SHARE = 6 * LANES, KINDS = 8 };
INLINE uint64_t entry(uint64_t i) { return i + i / LANES * ((KINDS - 1) * LANES); }

INLINE X even(double x) { return x - (X){0}; }
INLINE X pick(Q q, X x, X y) { return q ? x : y; }
INLINE X least(X x, X y) { return x < y ? x : y; }
INLINE X most(X x, X y) { return x > y ? x : y; }
INLINE X size(X x) { EACH x[lane] = fabs(x[lane]); return x; }
INLINE X root(X x) { EACH x[lane] = sqrt(x[lane]); return x; }
#if LANES == 8
INLINE X behind(X before, X x) { return __builtin_shufflevector(before, x, 7, 8, 9, 10, 11, 12, 13, 14); }
#else
INLINE X behind(X before, X x) { return __builtin_shufflevector(before, x, 3, 4, 5, 6); }
#endif
INLINE int64_t any(Q q) { int64_t all = 0; EACH all |= q[lane]; return all; }
INLINE uint64_t bits(Q q) { uint64_t all = 0; EACH all |= (uint64_t)(q[lane] & 1) << lane; return all; }
INLINE double sum(X x) { double all = 0.0; EACH all += x[lane]; return all; }
INLINE double top(X x) { double t = x[0]; EACH t = MAX(x[lane], t); return t; }

INLINE int64_t find(double phi, const Steel *s) {
    double x = (phi - s->first) * s->inverse;
    int64_t cell = !(x > 0.0) ? 0 : (x >= s->cells - 1 ? s->cells - 1 : (int64_t)x);
    int64_t b = s->locator[cell];
    b += phi >= s->hot[HOT * (b + 1)];
    while (phi >= s->hot[HOT * (b + 1)]) b++;
    return b;
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
            double age = MAX(t, 1e-12), root = sqrt(age);
            q += law[2] * root + law[3] / (law[20] == 0.5 ? root : pow(age, law[20]));
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

/* Read the table anew at those nodes from `begin` on whose bit is set, or half-way from there to the next node. */
INLINE void settle(uint64_t left, int64_t begin, const double *phi, int ahead, const Steel *steel, const Bins *bins) {
    for (; left; left &= left - 1) {
        int64_t i = begin + __builtin_ctzll(left);
        const double *h = steel->hot + HOT * find(0.5 * (phi[i] + phi[i + ahead]), steel);
        bins->low[i] = h[0];
        bins->high[i] = h[HOT];
        bins->value[i] = h[1];
        bins->slope[i] = h[2];
        bins->first[i] = h[3];
        bins->second[i] = h[4];
    }
}

/* Enthalpy of every cell and the equations of a Newton step without the faces' share. */
static void assemble(const double *phi, int64_t n, double c, const double *right, const double *link, int curved,
                     double *const w[4], const Steel *steel, const Bins *a, const Bins *m, double *energy,
                     double *system) {
    for (int64_t i = 0; i < n; i += 64) {
        uint64_t left = 0;
        for (int64_t j = i; j < MIN(i + 64, n); j += LANES) {
            X p = LOAD(phi, j);
            left |= bits((p < LOAD(a->low, j)) | (p >= LOAD(a->high, j))) << (j - i);
        }
        settle(left, i, phi, 0, steel, a);
    }
    X own = even(0.0), own_a = own, own_b = own, conducts = own, flow = own, upper = own;
    for (int64_t j = 0; j < n; j += LANES) {
        X pa = LOAD(phi, j), pb = LOAD(phi, j + 1), d = pb - pa, la = LOAD(a->low, j), lb = LOAD(a->low, j + 1);
        X sa = LOAD(a->slope, j), sb = LOAD(a->slope, j + 1), ha = LOAD(a->value, j) + sa * (pa - la);
        X w0 = LOAD(w[0], j), v0 = LOAD(w[2], j), w1 = LOAD(w[1], j), v1 = LOAD(w[3], j), g = LOAD(link, j);
        X edge = most(la, lb), kink = sb - sa, q = least(most((pb - edge) / d, even(0.0)), even(1.0));
        X p = most(q - 0.5, even(0.0)), q2 = q * q, p2 = p * p, rise = kink * d;
        X left = w0 * (ha + 0.25 * sa * d + rise * p2), d_la = w0 * (0.75 * sa + kink * (p + p2));
        X right_half = v0 * (ha + 0.75 * sa * d + rise * (q2 - p2)), d_lb = w0 * (0.25 * sa + kink * (p - p2));
        X d_ra = v0 * (0.25 * sa + kink * (q2 - p - p2)), d_rb = v0 * (0.75 * sa + kink * (2.0 * q - q2 - p + p2));
        if (curved) {
            X q3 = q2 * q * (2.0 / 3.0), p3 = p2 * p * (2.0 / 3.0);
            left += w1 * (0.5 * ha + sa * d * (1.0 / 6.0) + rise * (p2 - p3));
            right_half += v1 * (0.5 * ha + sa * d * (5.0 / 12.0) + rise * (q2 - q3 + p3));
            d_la += w1 * (sa * (1.0 / 3.0) + kink * (p - 2.0 * p3));
            d_lb += w1 * (sa * (1.0 / 6.0) + kink * (p - 2.0 * p2 + 2.0 * p3));
            d_ra += v1 * (sa * (1.0 / 12.0) + kink * (q2 - 2.0 * q3 + p2 + 2.0 * p3));
            d_rb += v1 * (sa * (5.0 / 12.0) + kink * (2.0 * q - 3.0 * q2 + 2.0 * q3 + p2 - 2.0 * p3));
        }
        Q apart = (edge > least(LOAD(a->high, j), LOAD(a->high, j + 1))) & (g > 0.0);
        if (any(apart)) {
            X pm = 0.5 * (pa + pb);
            Q off = apart & ((pm < LOAD(m->low, j)) | (pm >= LOAD(m->high, j)));
            settle(bits(off), j, phi, 1, steel, m);
            X va = LOAD(a->value, j), vb = LOAD(a->value, j + 1), vm = LOAD(m->value, j), sm = LOAD(m->slope, j);
            X x = pa - la, y = pb - lb, z = pm - LOAD(m->low, j), hb = vb + sb * y, hm = vm + sm * z;
            X fa = LOAD(a->first, j), fb = LOAD(a->first, j + 1), fm = LOAD(m->first, j);
            X ga = fa + x * (va + 0.5 * sa * x), gb = fb + y * (vb + 0.5 * sb * y), gm = fm + z * (vm + 0.5 * sm * z);
            X r = 2.0 / d, m_left = (gm - ga) * r, m_right = (gb - gm) * r;
            X f_left = w0 * m_left, f_right = v0 * m_right, f_la = w0 * (0.5 * (hm + m_left) - ha) * r;
            X f_lb = w0 * 0.5 * (hm - m_left) * r, f_ra = v0 * 0.5 * (m_right - hm) * r;
            X f_rb = v0 * (hb - 0.5 * (hm + m_right)) * r;
            if (curved) {
                X ka = LOAD(a->second, j) + x * (fa + x * (0.5 * va + sa * x * (1.0 / 6.0)));
                X kb = LOAD(a->second, j + 1) + y * (fb + y * (0.5 * vb + sb * y * (1.0 / 6.0)));
                X km = LOAD(m->second, j) + z * (fm + z * (0.5 * vm + sm * z * (1.0 / 6.0)));
                X fl = (gm - (km - ka) * r) * r, fr = (gb - (kb - km) * r) * r;
                X flb = 0.5 * (hm - 2.0 * fl) * r, fra = 0.5 * (2.0 * fr - m_right) * r;
                f_left += w1 * fl;
                f_right += v1 * fr;
                f_la += w1 * ((2.0 * fl - m_left) * r + flb);
                f_lb += w1 * flb;
                f_ra += v1 * fra;
                f_rb += v1 * (fra + (hb - 2.0 * fr) * r);
            }
            left = pick(apart, f_left, left);
            right_half = pick(apart, f_right, right_half);
            d_la = pick(apart, f_la, d_la);
            d_lb = pick(apart, f_lb, d_lb);
            d_ra = pick(apart, f_ra, d_ra);
            d_rb = pick(apart, f_rb, d_rb);
        }
        X content = behind(own, right_half) + left, ahead = c * g * d;
        g *= c;
        STORE(energy, j, content);
        X lower = behind(own_a, d_ra - g);
        double *e = system + entry(j);
        STORE(e, BELOW, lower);
        STORE(e, PIVOT, behind(own_b, d_rb) + d_la + (g + behind(conducts, g)));
        STORE(e, ABOVE, d_lb - g);
        STORE(e, PRODUCT, lower * behind(upper, d_lb - g));
        STORE(e, CHANGE, LOAD(right, j) - content + (ahead - behind(flow, ahead)));
        own = right_half;
        own_a = d_ra - g;
        own_b = d_rb;
        conducts = g;
        flow = ahead;
        upper = d_lb - g;
    }
}

/* Solve the tridiagonal equations for their right sides: three stretches at once, parted by two nodes. */
static void solve(int64_t n, double *system) {
    int64_t m = n / 3;
    for (int64_t i = n; i < 3 * m + 2; i++) system[entry(i) + PIVOT] = 1.0;
    double *left = system + entry(m), *right = system + entry(2 * m + 1);
    double pi = 0.0, pj = 0.0, pk = 0.0, xi = 0.0, xj = 0.0, xk = 0.0, f = 0.0, product = 0.0, s = -1.0;
    double onward = left[ABOVE], pivot = left[PIVOT], x = left[CHANGE];
    for (int64_t step = 0; step < m; step++) {
        double *i = system + entry(step), *j = system + entry(3 * m + 1 - step), *k = system + entry(m + 1 + step);
        pi = 1.0 / (i[PIVOT] - i[PRODUCT] * pi);
        pj = 1.0 / (j[PIVOT] - product * pj);
        pk = 1.0 / (k[PIVOT] - k[PRODUCT] * pk);
        product = j[PRODUCT];
        xi = i[CHANGE] * pi - i[BELOW] * pi * xi;
        xj = j[CHANGE] * pj - j[ABOVE] * pj * xj;
        xk = k[CHANGE] * pk - k[BELOW] * pk * xk;
        f = k[ABOVE] * pk;
        s *= -k[BELOW] * pk;
        pivot -= onward * s;
        x -= onward * xk;
        onward *= -f;
        i[CHANGE] = xi;
        j[CHANGE] = xj;
        k[CHANGE] = xk;
        i[FACTOR] = i[ABOVE] * pi;
        j[FACTOR] = j[BELOW] * pj;
        k[FACTOR] = f;
        k[SHARE] = s;
    }
    double p = 1.0 / (pivot - left[PRODUCT] * pi);
    x = (x - left[BELOW] * xi) * p;
    s *= -right[BELOW];
    double last = right[CHANGE] - right[ABOVE] * xj - right[BELOW] * xk - s * x;
    last /= right[PIVOT] - product * pj - right[BELOW] * f - s * onward * p;
    x -= onward * p * last;
    left[CHANGE] = xi = x;
    right[CHANGE] = xj = xk = last;
    for (int64_t step = m - 1; step >= 0; step--) {
        double *i = system + entry(step), *j = system + entry(3 * m + 1 - step), *k = system + entry(m + 1 + step);
        i[CHANGE] = xi = i[CHANGE] - i[FACTOR] * xi;
        j[CHANGE] = xj = j[CHANGE] - j[FACTOR] * xj;
        k[CHANGE] = xk = (k[CHANGE] - k[SHARE] * x) - k[FACTOR] * xk;
    }
}

/* Integral of the solid fraction over depth, from the first face to node `peak` and from there on. */
INLINE void solid_parts(const double *phi, int64_t n, double peak, const double *width, const double *number,
                        const Steel *s, double solidus, double liquidus, double *mean, double out[2]) {
    for (int64_t i = 0; i < n; i += 64) {
        uint64_t mushy = 0;
        for (int64_t j = i; j < MIN(i + 64, n); j += LANES) {
            X pa = LOAD(phi, j), pb = LOAD(phi, j + 1), high = most(pa, pb);
            STORE(mean, j, pick(high <= solidus, even(1.0), even(0.0)));
            mushy |= bits((high > solidus) & (least(pa, pb) < liquidus) & (LOAD(width, j) > 0.0)) << (j - i);
        }
        int64_t known = -1, ia = 0;
        double fa = 0.0, ga = 0.0;
        for (; mushy; mushy &= mushy - 1) {
            int64_t j = i + __builtin_ctzll(mushy);
            double pa = phi[j], pb = phi[j + 1];
            if (known != j) {
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
            mean[j] = ia == ib || fabs(d) < 1e-9 * (fabs(pa) + fabs(d)) ? 0.5 * (fa + fb) : (gb - ga) / d;
            fa = fb;
            ga = gb;
            ia = ib;
            known = j + 1;
        }
    }
    X near = even(0.0), far = near;
    for (int64_t j = 0; j < n; j += LANES) {
        X piece = LOAD(mean, j) * LOAD(width, j);
        Q before = LOAD(number, j) < peak;
        near += pick(before, piece, even(0.0));
        far += pick(before, even(0.0), piece);
    }
    out[0] = sum(near);
    out[1] = sum(far);
}

/* Whether nothing acts on a face, nor will. */
INLINE int insulated(const double *law) {
    if (law[4] > 0.0 || law[5] < 0.0 || law[6] >= 0.0) return 0;
    for (int k : {0, 1, 2, 3, 8, 11, 14, 15, 19})
        if (law[k] != 0.0) return 0;
    return 1;
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

typedef struct { X a, b, c; } Weights;

INLINE Weights blended(X theta) {
    X a = (theta - GAMMA) * (theta - 1.0) * (1.0 / GAMMA), b = theta * (theta - 1.0) * (1.0 / (GAMMA * (GAMMA - 1.0)));
    return (Weights){a, b, theta * (theta - GAMMA) * (1.0 / (1.0 - GAMMA))};
}

INLINE X limited(Weights w, double x, double y, double z) {
    X v = w.a * x + w.b * y + w.c * z;
    return least(most(v, even(MIN(MIN(x, y), z))), even(MAX(MAX(x, y), z)));
}

typedef struct { const double *p0, *pg, *p1, *x, *gap, *span; int64_t n; } Step;
#define AT(i) limited(w, s->p0[i], s->pg[i], s->p1[i])

INLINE X fronts(const Step *s, Weights w, double level, int backward, double *place) {
    int64_t step = backward ? -1 : 1, first = backward ? s->n - 1 : 0, beyond = backward ? -1 : s->n;
    int64_t i = (int64_t)*place, j, k;
    const double *x = s->x;
    X here = AT(i);
    while (i != first && any(here > level)) {
        i -= step;
        here = AT(i);
    }
    Q sought = here <= level;
    X found = pick(sought, even(fabs(x[s->n - 1] - x[0])), even(0.0));
    X before = i != first ? AT(i - step) : here;
    j = i + step;
    X there = j != beyond ? AT(j) : here;
    while (j != beyond && any(sought)) {
        k = j + step;
        X after = k != beyond ? AT(k) : there;
        Q passed = sought & (there > level);
        if (any(passed)) {
            double h = fabs(x[j] - x[i]), share = 1.0;
            X rise = there - here, limit = 0.4 * rise, low = here, high = there, bend = even(0.0);
            if (i != first) {
                X half = (rise - (here - before) * (h * s->gap[MIN(i, i - step)])) * (h * s->span[i]);
                low += least(most(half, -limit), limit) * (1.0 / 12.0);
                bend += half;
                share = 0.5;
            }
            if (k != beyond) {
                X half = ((after - there) * (h * s->gap[MIN(j, k)]) - rise) * (h * s->span[j]);
                high += least(most(half, -limit), limit) * (1.0 / 12.0);
                bend += half;
            } else {
                share = 1.0;
            }
            passed &= (high > level) | (after <= there);
            rise = high - low;
            bend = least(most(bend * share, -0.5 * rise), 0.5 * rise);
            X ahead = most(level - low, even(0.0)), line = rise - bend;
            X u = 2.0 * ahead / (line + root(most(line * line + 4.0 * bend * ahead, even(0.0))));
            found = pick(passed, size(x[i] - x[first] + least(u, even(1.0)) * (x[j] - x[i])), found);
            sought &= ~passed;
        }
        if (any(sought)) {
            before = here;
            here = there;
            there = after;
            i = j;
            j = k;
        }
    }
    *place = i;
    return found;
}

INLINE void put(double *out, int64_t count, X x) {
    for (int64_t lane = 0; lane < count; lane++) out[lane] = x[lane];
}

/* shape: nodes of all strands, samples of all, levels, points of a row over temperature, of one over time, of work */
extern "C" void march(const int64_t *shape, const int64_t *strands, const int64_t *node_offset, const double *depth,
           const double *conductance, const double *weights, const uint8_t *curved, const double *turning,
           const double *areas,
           const int64_t *table_of, const int64_t *table_offset, const double *hot, const double *cold,
           const int64_t *locator_offset, const int32_t *locator, const double *tables, const int64_t *section_offset,
           const double *ends, const double *laws, const double *s_rows, const double *s_starts,
           const double *s_inverses, const double *t_rows, const double *t_starts, const double *t_inverses,
           const double *initial, const double *controls, const double *levels, const int64_t *n_sides,
           const int64_t *time_offset, const double *times, double *surface_out, double *flux_out, double *heat_out,
           double *shell_out, double *solid_out, double *centre_out, const int64_t *profile_start, double *profile_out,
           double *booked, double *handed, double *closure, double *account, double *work) {
    int64_t nodes = shape[0], samples = shape[1], n_levels = shape[2];
    Curves over_temp = {s_rows, s_starts, s_inverses, shape[3]}, over_time = {t_rows, t_starts, t_inverses, shape[4]};
    double *row[WORK];
    for (int i = 0; i < WORK; i++) row[i] = work + i * shape[5];
    double *system = row[0], *unwanted = row[8], *p0 = row[16], *pg = row[17], *p1 = row[18], *old0 = row[19];
    double *oldg = row[20], *e0 = row[21], *eg = row[22], *base = row[23], *energy = row[24], *begun = row[25];
    double *r0 = row[26], *rg = row[27], *r1 = row[28], *link = row[29], *width = row[30], *number = row[31];
    double *gap = row[32], *span = row[33], *per_volume = row[34], *spare = row[37], *places = row[55], *more_link = row[56];
    double *more[4] = {row[57], row[58], row[59], row[60]};
    double *w[4] = {row[38], row[39], row[40], row[41]};
    Bins bins = {row[42], row[43], row[44], row[45], row[46], row[47]};
    Bins middles = {row[48], row[49], row[50], row[51], row[52], row[53]};
    const double B2 = 1.0 / (GAMMA * (2.0 - GAMMA)), B1 = (1.0 - GAMMA) * (1.0 - GAMMA) * B2;
    const double E0 = W - (1.0 - W) / 3.0, E1 = W - (3.0 * W + 1.0) / 3.0, E2 = HALF - HALF / 3.0;
    for (int64_t strand = strands[0]; strand < strands[1]; strand++) {
        int64_t i0 = node_offset[strand], n = node_offset[strand + 1] - i0, last = n - 1, k = table_of[strand];
        const double *x = depth + i0, *area = areas + 2 * strand, *table = tables + TABLE * k;
        for (int64_t i = 0; i < WORK * shape[5]; i++) work[i] = 0.0;
        for (int64_t i = 0; i < shape[5]; i++) bins.high[i] = middles.high[i] = -INFINITY;
        const double *turning_of = turning + TURNING * strand;
        double frozen = turning_of[2], turned = CLIP((frozen - turning_of[0]) * turning_of[1], 0.0, 1.0);
        int turns = turning_of[1] > 0.0 && turned < 1.0;
        for (int64_t i = 0; i < last; i++) {
            const double *tie = conductance + i0 + i;
            more_link[i] = tie[nodes] - *tie;
            link[i] = *tie + turned * more_link[i];
            for (int m = 0; m < 4; m++) {
                const double *own = weights + m * nodes + i0 + i;
                more[m][i] = own[4 * nodes] - *own;
                w[m][i] = *own + turned * more[m][i];
            }
        }
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
            number[i] = (double)i;
            if (i < last) {
                width[i] = x[i + 1] - x[i];
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
        assemble(p0, n, 0.0, base, link, bent, w, &steel, &bins, &middles, energy, system);
        for (int64_t i = 0; i < n; i++) begun[i] = e0[i] = energy[i];
        double swept = 0.0, sweeps = 0.0, growth = 0.0, given = 0.0, after = 0.0;
        before = 0.0;
        for (int64_t i = 0; i < (turns ? n : 0); i++) {
            double own = before, cell = after;
            if (i < last) {
                own += more[0][i] + 0.5 * more[1][i];
                cell += w[0][i] + 0.5 * w[1][i];
                before = more[2][i] + 0.5 * more[3][i];
                after = w[2][i] + 0.5 * w[3][i];
            }
            sweeps += own * begun[i] / cell;
        }
        int64_t steps = 0, rejected = 0, iterations = 0, i_time = time_offset[strand], end_time = time_offset[strand + 1];
        int64_t peak = last;
        int since_check = 0, freezing = 0, known = 0, status = 0;
        double worst_table = 0.0, old_step = 0.0, dt_next = first_step, a, b, d, unused;
        for (int64_t section = section_offset[strand]; section < section_offset[strand + 1] && !status; section++) {
            double end = ends[section];
            const double *law[2] = {laws + 4 * LAWS * section, laws + (4 * section + 2) * LAWS};
            if (!(end > t)) continue;
            if (t > start) dt_next = MIN(dt_next, first_step);
            int order = 0, running = 0, first_stage = 0, fresh = 1, faces = insulated(law[1]) ? 1 : 2;
            face[1] = face_slope[1] = 0.0;
            for (int stage = 0; stage < 3; stage++) {
                q[stage][1] = 0.0;
                for (int m = 0; m < MECHANISMS; m++) parts[stage][1][m] = 0.0;
            }
            while (t < end && !status) {
                double left = end - t, dt = dt_next;
                if (dt >= left * (1.0 - 1e-9)) dt = left;
                else if (dt > 0.5 * left) dt = 0.5 * left;
                if (steps + rejected >= control[4]) { status = 2; break; }
                double next = dt == left ? end : t + dt, c = HALF * dt;
                int solved = 0;
                double turn = 0.0;
                if (turns && fresh) {
                    turn = (frozen + 0.5 * dt * growth - turning_of[0]) * turning_of[1];
                    turn = MAX(MIN(turn, 1.0) - turned, 0.0);
                    if (turn > 0.0) {
                        turned += turn;
                        first_stage = 0;
                        for (int64_t j = 0; j < n; j += LANES) {
                            STORE(link, j, LOAD(link, j) + turn * LOAD(more_link, j));
                            for (int m = 0; m < 4; m++) STORE(w[m], j, LOAD(w[m], j) + turn * LOAD(more[m], j));
                        }
                    }
                }
                fresh = 0;
                for (int stage = first_stage; stage < 3; stage++) {
                    double *phi = p0, *rate = r0, when = t;
                    if (stage) {
                        const double *one = old0, *two, *three, *e = e0, *r = r0;
                        double u = 1.0, v = c;
                        if (stage == 1) {
                            phi = pg;
                            rate = rg;
                            when = t + GAMMA * dt;
                            two = oldg;
                            three = p0;
                            a = order == 1 ? -GAMMA * dt / old_step : 0.0;
                            b = 0.0;
                            d = 1.0 - a;
                            if (order == 2) blend(1.0 + GAMMA * dt / old_step, &a, &b, &d);
                        } else {
                            phi = p1;
                            rate = r1;
                            when = next;
                            two = p0;
                            three = pg;
                            a = 0.0;
                            b = 1.0 - 1.0 / GAMMA;
                            d = 1.0 / GAMMA;
                            if (order == 2) {
                                double from = -old_step, to = GAMMA * dt;
                                a = (dt * (dt - to)) / (from * (from - to));
                                b = ((dt - from) * (dt - to)) / (-from * -to);
                                d = ((dt - from) * dt) / ((to - from) * to);
                            }
                            e = eg;
                            r = e0;
                            u = B2;
                            v = -B1;
                        }
                        for (int64_t j = 0; j < n; j += LANES) {
                            STORE(phi, j, a * LOAD(one, j) + b * LOAD(two, j) + d * LOAD(three, j));
                            STORE(base, j, u * LOAD(e, j) + v * LOAD(r, j));
                        }
                    }
                    int done = 0;
                    int gains = stage == 0 && turn > 0.0, counted = gains || (stage == 2 && (since_check >= 3 || dt == left));
                    solved = stage == 0;
                    for (int turn = 0; turn <= ITERATIONS; turn++) {
                        for (int side = 0; side < faces; side++) {
                            double rise, slope, temp = temperature(phi[side ? last : 0], &steel, &rise);
                            q[stage][side] =
                                surface(when, temp, law[side], &over_temp, &over_time, parts[stage][side], &slope);
                            face[side] = c * area[side] * q[stage][side];
                            face_slope[side] = c * area[side] * slope * rise;
                        }
                        if (counted || !solved)
                            assemble(phi, n, c, base, link, bent, gains ? more : w, &steel, &bins, &middles, energy,
                                     solved ? unwanted : system);
                        if (solved) { done = 1; break; }
                        iterations++;
                        for (int side = 0; side < 2; side++) {
                            system[entry(side ? last : 0) + CHANGE] -= face[side];
                            system[entry(side ? last : 0) + PIVOT] += face_slope[side];
                        }
                        solve(n, system);
                        X largest = even(0.0);
                        for (int64_t j = 0; j < n; j += LANES) {
                            X from = LOAD(phi, j), moved = LOAD(system, entry(j) + CHANGE), to = from + moved;
                            Q jumps = ((from < table[5]) & (to > table[6])) | ((from > table[6]) & (to < table[5]));
                            STORE(phi, j, pick(jumps, even(0.5 * (table[5] + table[6])), to));
                            largest = most(size(moved), largest);
                        }
                        double most_moved = top(largest);
                        if (!(most_moved < 1e300)) break;
                        solved = most_moved <= accept;
                    }
                    solved = done;
                    if (!solved) break;
                    X flow = even(0.0);
                    for (int64_t j = 0; j < n; j += LANES) {
                        X ahead = LOAD(link, j) * (LOAD(phi, j + 1) - LOAD(phi, j));
                        STORE(rate, j, ahead - behind(flow, ahead));
                        flow = ahead;
                    }
                    rate[0] -= area[0] * q[stage][0];
                    rate[last] -= area[1] * q[stage][1];
                    if (gains) {
                        X gained = even(0.0);
                        for (int64_t j = 0; j < n; j += LANES) {
                            X gain = turn * LOAD(energy, j);
                            STORE(e0, j, LOAD(e0, j) + gain);
                            gained += gain;
                        }
                        swept += turn * sweeps;
                        given += sum(gained) - turn * sweeps;
                        handed[section] += sum(gained) - turn * sweeps;
                    }
                    if (stage == 1)
                        for (int64_t j = 0; j < n; j += LANES) STORE(eg, j, LOAD(base, j) + c * LOAD(rate, j));
                }
                first_stage = 1;
                double error = 0.0;
                if (solved) {
                    for (int64_t j = 0; j < n; j += LANES)
                        STORE(system, entry(j) + CHANGE, dt * (E0 * LOAD(r0, j) + E1 * LOAD(rg, j) + E2 * LOAD(r1, j)));
                    double allowed = tolerance;
                    if (MIN(face_slope[0], face_slope[1]) < 0.0) allowed *= RUNAWAY;
                    else if (freezing) allowed *= LATE;
                    solve(n, system);
                    X largest = even(0.0);
                    for (int64_t j = 0; j < n; j += LANES) largest = most(size(LOAD(system, entry(j) + CHANGE)), largest);
                    error = top(largest) / allowed;
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
                int wanted = i_time < end_time && times[i_time] <= next;
                if (wanted || turns)
                    for (int stage = !wanted ? 2 : known ? 1 : 0; stage < 3; stage++)
                        solid_parts(stage == 0 ? p0 : stage == 1 ? pg : p1, n, (double)(stage ? peak : peak_before),
                                    width, number, &steel, table[7], table[8], spare, solid[stage]);
                known = wanted || turns;
                if (turns) {
                    growth = ((solid[2][0] + solid[2][1]) / (x[last] - x[0]) - frozen) / dt;
                    frozen = (solid[2][0] + solid[2][1]) / (x[last] - x[0]);
                    turns = turned < 1.0;
                }
                Step step = {p0, pg, p1, x, gap, span, n};
                for (int64_t count; i_time < end_time && times[i_time] <= next; i_time += count) {
                    X theta = even(0.0);
                    for (count = 0; count < LANES && i_time + count < end_time && times[i_time + count] <= next; count++)
                        theta[count] = (times[i_time + count] - t) / dt;
                    Weights at = blended(theta);
                    X s2 = theta * theta, s3 = s2 * theta;
                    for (int side = 0; side < sides; side++) {
                        int64_t i = side ? last : 0, to = side * samples + i_time;
                        for (int64_t l = 0; l < n_levels; l++)
                            put(shell_out + (side * n_levels + l) * samples + i_time, count,
                                fronts(&step, at, level[l], side == 1, places + side * n_levels + l));
                        X out = at.a * solid[0][side] + at.b * solid[1][side] + at.c * solid[2][side];
                        if (sides == 1) out += at.a * solid[0][1] + at.b * solid[1][1] + at.c * solid[2][1];
                        put(solid_out + to, count, out);
                        out = (2.0 * s3 - 3.0 * s2 + 1.0) * heat[side] + (3.0 * s2 - 2.0 * s3) * heat_new[side];
                        out += (s3 - 2.0 * s2 + theta) * (dt * area[side] * q[0][side]);
                        out += (s3 - s2) * (dt * area[side] * q[2][side]);
                        put(heat_out + to, count, out);
                        STORE(spare, 0, at.a * p0[i] + at.b * pg[i] + at.c * p1[i]);
                        for (int64_t k = 0; k < count; k++) {
                            double temp = temperature(spare[k], &steel, &unused);
                            surface_out[to + k] = temp;
                            flux_out[to + k] =
                                surface(times[i_time + k], temp, law[side], &over_temp, &over_time, scratch, &unused);
                        }
                    }
                    put(centre_out + i_time, count, limited(at, p0[peak], pg[peak], p1[peak]));
                    put(centre_out + samples + i_time, count, even(x[peak]));
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
                    double u = dt / old_step;
                    X constant = even(0.0), straight = constant, parabola = constant;
                    blend(1.0 + u, &a, &b, &d);
                    for (int64_t j = 0; j < n; j += LANES) {
                        X begin = LOAD(p0, j), lies = LOAD(p1, j), old = LOAD(old0, j);
                        constant = most(size(lies - begin), constant);
                        straight = most(size(lies - begin - u * (begin - old)), straight);
                        parabola = most(size(lies - a * old - b * LOAD(oldg, j) - d * begin), parabola);
                    }
                    if (top(parabola) > 1.5 * MIN(top(straight), top(constant)))
                        order = top(straight) <= top(constant) ? 1 : 0;
                }
                running = 1;
                for (int64_t j = 0; j < n; j += LANES) {
                    STORE(e0, j, LOAD(base, j) + c * LOAD(r1, j));
                    STORE(old0, j, LOAD(p0, j));
                    STORE(oldg, j, LOAD(pg, j));
                    STORE(p0, j, LOAD(p1, j));
                    STORE(r0, j, LOAD(r1, j));
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
                t = next;
                fresh = 1;
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
        marched += swept + given;
        recounted += swept + given;
        double said[ACCOUNT] = {(double)status, t, (double)steps, (double)rejected, (double)iterations, worst_table, heat[0], heat[1], marched, recounted};
        for (int i = 0; i < ACCOUNT; i++) account[ACCOUNT * strand + i] = said[i];
    }
}
