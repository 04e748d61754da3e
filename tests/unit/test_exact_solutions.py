"""Exact solutions against values of a 40-digit evaluation, against each other, and against the equations.

Numbers named "40 digits" were computed once with 40-digit arithmetic from the same equations and rounded to
doubles. The steel-like material used throughout is invented: density 7400 kg/m3, latent heat 272 kJ/kg, solid
30 W/(m K) and 680 J/(kg K), band 32 and 750, liquid 34 and 820.
"""

import itertools

import numpy as np
import pytest
from scipy import integrate

from solidify import exact_solutions as ex
from solidify.errors import InputError
from solidify.exact_solutions import conduction

RHO = 7400.0
SOLID = {"conductivity": 30.0, "heat_capacity": RHO * 680.0}
TWO = {"conductivity": (30.0, 34.0), "heat_capacity": (RHO * 680.0, RHO * 820.0), "latent_heat": RHO * 272e3}
THREE = {
    "conductivity": (30.0, 32.0, 34.0),
    "heat_capacity": (RHO * 680.0, RHO * 750.0, RHO * 820.0),
    "latent_heat": RHO * 272e3,
}


def stefan():
    return ex.stefan(wall=1000, melting=1500, latent_heat=RHO * 272e3, **SOLID)


def neumann():
    return ex.neumann(wall=1000, melting=1500, initial=1530, **TWO)


def band():
    return ex.freezing_band(wall=1000, solidus=1460, liquidus=1510, initial=1540, **THREE)


def eutectic():
    return ex.freezing_band(
        wall=1000, solidus=1440, liquidus=1510, initial=1535, isothermal_share=0.25, **THREE
    )


@pytest.mark.parametrize(
    ("number", "root"),
    [
        (0.01, 0.07059327656042931),
        (0.1, 0.22001627274293786),
        (1.0, 0.6200626333135955),
        (1.25, 0.6758643172760708),
        (5.0, 1.0596870142819024),
    ],
)
def test_one_phase_roots(number, root):
    """Carslaw and Jaeger 1959, ch. XI (from memory), 40 digits."""
    ours = ex.stefan(wall=0, melting=1, conductivity=1, heat_capacity=1, latent_heat=1 / number)
    assert ours.roots[0] == pytest.approx(root, rel=2e-14)


@pytest.mark.parametrize(("surface", "root"), [(700, 0.807), (800, 0.770), (900, 0.729), (1200, 0.557)])
def test_one_phase_root_of_a_strand_surface(surface, root):
    """Melting 1500 degC, 270 kJ/kg, 690 J/(kg K): roots to three digits, computed independently."""
    ours = ex.stefan(
        wall=surface, melting=1500, conductivity=30, heat_capacity=RHO * 690, latent_heat=RHO * 270e3
    )
    assert ours.roots[0] == pytest.approx(root, abs=6e-4)


@pytest.mark.parametrize(
    ("number", "superheat", "k", "c", "root"),
    [
        (0.2, 0.1, 1.0, 1.0, 0.29929166478672226),
        (1.0, 0.5, 0.5, 2.0, 0.428969722235536),
        (2.0, 0.3, 1.5, 1.1, 0.5977641881702045),
        (4.0, 0.3, 1.0, 1.0, 0.7076615274232804),
    ],
)
def test_two_phase_roots(number, superheat, k, c, root):
    """40 digits; the last is the 0.70766 of Rathjen and Jiji, J. Heat Transfer 93 (1971) 101 (recalled)."""
    ours = ex.neumann(
        wall=-1,
        melting=0,
        initial=superheat,
        conductivity=(1, k),
        heat_capacity=(1, c),
        latent_heat=1 / number,
    )
    assert ours.roots[0] == pytest.approx(root, rel=2e-14)


def test_steel_like_roots_and_fronts():
    """40 digits: K in mm min-1/2 is the front after 60 s."""
    assert stefan().front(60.0) == pytest.approx(25.565568242061392e-3, rel=2e-14)
    assert neumann().roots[0] == pytest.approx(0.6422756634168322, rel=2e-14)
    assert neumann().front(60.0) == pytest.approx(24.295027690581765e-3, rel=2e-14)
    assert neumann().surface_heat_flux(1.0) == pytest.approx(5447185.590248905, rel=2e-14)
    assert band().roots == pytest.approx((0.5663823659361549, 0.7532452285530832), rel=2e-14)
    assert band().front(60.0, -1) == pytest.approx(28.49261575339981e-3, rel=2e-14)
    assert band().equivalent_shell(60.0) == pytest.approx(23.82177769757608e-3, rel=2e-14)
    assert band().heat_removed(60.0) == pytest.approx(85634548.17602767, rel=2e-14)
    assert eutectic().roots == pytest.approx((0.5421597866009226, 0.8382847336991394), rel=2e-14)
    assert eutectic().equivalent_shell(60.0) == pytest.approx(23.391083202174624e-3, rel=2e-14)
    assert eutectic().surface_heat_flux(1.0) == pytest.approx(5478256.909708231, rel=2e-14)


def test_steel_like_temperatures():
    """40 digits, in every region."""
    assert stefan().temperature(5e-3, 30.0) == pytest.approx(1157.7559910037216, abs=1e-9)
    assert neumann().temperature([10e-3, 40e-3], 30.0) == pytest.approx(
        [1316.6861797003194, 1527.49347310647]
    )
    np.testing.assert_allclose(
        band().temperature([2e-3, 5e-3, 10e-3, 20e-3], 10.0),
        [1115.8855714682438, 1281.4664676902987, 1493.9129232351524, 1533.50522024508],
        rtol=1e-13,
    )
    np.testing.assert_allclose(
        eutectic().temperature([10e-3, 20e-3], [10.0, 30.0]),
        [1481.0927431460689, 1501.1445494381485],
        rtol=1e-13,
    )


def test_line_sink_roots_and_temperatures():
    """Paterson 1952 and, with a band, Ozisik and Uzzell 1979 (both from memory); 40 digits."""
    two = ex.line_sink(sink=60e3, front_temperature=(1500,), initial=1530, **TWO)
    assert two.roots[0] == pytest.approx(0.49616413836339124, rel=2e-14)
    np.testing.assert_allclose(
        two.temperature([5e-3, 8e-3], 10.0), [1384.7693987311966, 1501.9538928342963], rtol=1e-13
    )
    three = ex.line_sink(sink=60e3, front_temperature=(1460, 1510), initial=1540, **THREE)
    assert three.roots == pytest.approx((0.41262323293027364, 0.5853313980452695), rel=1e-13)
    np.testing.assert_allclose(
        three.temperature([5e-3, 8e-3, 12e-3], 10.0),
        [1392.5477979942518, 1500.0182771454852, 1523.6390014783576],
        rtol=1e-13,
    )


@pytest.mark.parametrize("solution", [stefan(), neumann(), band(), eutectic()])
def test_the_heat_that_a_profile_lost_is_the_heat_that_left(solution):
    """An independent check of profile, roots and flux together: integrate the profile at 60 s."""
    time, far = 60.0, 0.25
    k, a = np.array(solution.conductivity), np.array(solution.diffusivity)
    capacity = k / a
    edges = [0.0, *(float(solution.front(time, j)) for j in range(len(solution.roots))), far]
    tops = [*solution.front_temperature, solution.initial]
    lost = sum(
        latent * edge for latent, edge in zip(solution.latent_heat, edges[1:-1], strict=True)
    )  # released at the fronts
    for i, (low, high) in enumerate(itertools.pairwise(edges)):
        own, _ = integrate.quad(lambda x: float(solution.temperature(x, time)), low, high, epsabs=1e-10)
        lost += capacity[i] * (tops[i] * (high - low) - own)
        lost += sum(capacity[j] * (tops[j] - tops[j - 1]) for j in range(i + 1, len(capacity))) * (high - low)
    assert lost == pytest.approx(float(solution.heat_removed(time)), rel=1e-9)


def test_a_narrow_band_tends_to_the_two_phase_solution():
    """To first order in the range; below what floating point can hold it is refused, not answered wrongly."""
    off = []
    for span in (8.0, 4.0, 2.0, 1.0):
        narrow = ex.freezing_band(wall=1000, solidus=1500 - span, liquidus=1500, initial=1530, **THREE)
        off.append(float(narrow.equivalent_shell(1.0) / neumann().front(1.0)) - 1.0)
    assert abs(off[-1]) < 1e-3
    np.testing.assert_allclose(np.array(off[:-1]) / off[1:], 2.0, rtol=0.05)
    with pytest.raises(InputError, match=r"(?s)0\.001 K.*two-phase"):
        ex.freezing_band(wall=1000, solidus=1499.999, liquidus=1500, initial=1530, **THREE)


def test_an_equivalent_line_sink_shell_holds_its_solid():
    """The disc of equal cross-section: the integral of solid fraction over the area, by quadrature."""
    three = ex.line_sink(sink=60e3, front_temperature=(1460, 1510), initial=1540, **THREE)
    low, high = float(three.front(60.0, 0)), float(three.front(60.0, 1))
    share, _ = integrate.quad(lambda r: (1510 - float(three.temperature(r, 60.0))) / 50 * 2 * r, low, high)
    assert three.equivalent_shell(60.0) == pytest.approx(np.sqrt(low**2 + share), rel=1e-12)
    with pytest.raises(InputError, match="line sink"):
        three.surface_heat_flux(1.0)


def test_convection_roots_and_series():
    """40 digits; Incropera's table 5.1 prints 0.8603 for the plate at Bi = 1 (recalled)."""
    assert conduction._eigenvalues(1.0, 4, False) == pytest.approx(
        [0.8603335890193797, 3.4256184594817283, 6.437298179171947, 9.529334405361963], rel=1e-13
    )
    assert conduction._eigenvalues(100.0, 4, True) == pytest.approx(
        [2.3809016634910467, 5.465207002239944, 8.567831649904084, 11.674735433222288], rel=1e-13
    )
    assert ex.plate_convection(0.05, [0.0, 0.5, 1.0], 0.1) == pytest.approx(
        [0.9999732828031593, 0.9984817132680487, 0.975260387674162], rel=1e-12
    )
    assert ex.plate_convection_heat([0.05, 2.0], 0.1) == pytest.approx(
        [0.004917128967671459, 0.17611114729401475], rel=1e-10
    )
    assert ex.cylinder_convection(0.1, [0.0, 0.5, 1.0], 0.1) == pytest.approx(
        [0.9973500962709856, 0.990538555891471, 0.9594366708111228], rel=1e-12
    )
    assert ex.cylinder_convection_heat([0.05, 2.0], 0.1) == pytest.approx(
        [0.009820687946210195, 0.3231927229705314], rel=1e-10
    )


@pytest.mark.parametrize(("biot", "heat", "theta"), [(0.3, ex.plate_convection_heat, ex.plate_convection)])
def test_a_plate_gives_off_what_its_mean_temperature_lost(biot, heat, theta):
    mean, _ = integrate.quad(lambda x: float(theta(0.2, x, biot)), 0.0, 1.0)
    assert heat(0.2, biot) == pytest.approx(1.0 - mean, rel=1e-12)


def test_a_published_pipe_wall():
    """Incropera et al., Fundamentals of Heat and Mass Transfer, 6th ed., example 5.4 (seen): 42.9 degC."""
    biot, fourier = 500 * 0.04 / 63.9, 5.64
    outside = 60 + (-20 - 60) * ex.plate_convection(fourier, 0.0, biot)
    assert outside == pytest.approx(42.9, abs=0.2)  # the book reads charts of three digits
    assert outside == pytest.approx(43.01745141519361, abs=1e-9)  # 40 digits
    assert 60 + (-20 - 60) * ex.plate_convection(fourier, 1.0, biot) == pytest.approx(45.363548120648815)


def test_a_published_copper_plate():
    """Incropera et al., example 5.10: 45.4 degC at 150 mm (seen), 120.0 degC at the surface (recalled)."""
    t = ex.semi_infinite_flux(
        [0.0, 0.15], 120.0, initial=20, flux=-3e5, conductivity=401, heat_capacity=401 / 117e-6
    )
    assert t == pytest.approx([120.0, 45.4], abs=0.05)


def test_constant_flux_series():
    """40 digits."""
    assert ex.plate_constant_flux(0.2, [0.0, 0.5, 1.0]) == pytest.approx(
        [0.0614637512943321, 0.15835219666821979, 0.5051651887025607], rel=1e-11
    )
    assert ex.cylinder_constant_flux(0.2, [0.0, 0.5, 1.0]) == pytest.approx(
        [0.1679376780676247, 0.2798946673358574, 0.6427703800140884], rel=1e-11
    )


def test_half_space_solutions():
    """40 digits; steel-like, 1200 degC, 150 kW/m2, 400 W/(m2 K) at 30 degC, 600 degC; far and near."""
    depth, time = np.array([0.0, 5e-3, 40e-3]), 60.0
    assert ex.semi_infinite_flux(depth, time, initial=1200, flux=150e3, **SOLID) == pytest.approx(
        [1093.2934693328496, 1116.434479405939, 1192.079986521977], rel=1e-13
    )
    assert ex.semi_infinite_convection(
        depth, time, initial=1200, fluid=30, coefficient=400, **SOLID
    ) == pytest.approx([929.4160880792754, 985.4897595880007, 1178.3390103219344], rel=1e-13)
    assert ex.semi_infinite_fixed(depth, time, initial=1200, surface=600, **SOLID) == pytest.approx(
        [600.0, 688.9727275959472, 1119.1256342291395], rel=1e-13
    )
    deep = ex.semi_infinite_convection(10.0, 1.0, initial=1200, fluid=30, coefficient=1e5, **SOLID)
    assert deep == pytest.approx(1200.0)  # the closed form overflows here unless it is scaled


def test_lumped_radiation():
    """Bejan and Kraus, Heat Transfer Handbook, 2003, eq. (3.283) (seen); 40 digits; and its own rate."""
    law = {"initial": 1200.0, "ambient": 30.0, "emissivity": 0.8, "heat_per_area": 100640.0}
    kelvin = np.array([1400.0, 1173.15, 573.15])
    np.testing.assert_allclose(
        ex.lumped_radiation_time(kelvin - 273.15, **law),
        [38.26269603763969, 227.40589650213747, 3834.9500314619513],
        rtol=1e-12,
    )
    step = ex.lumped_radiation_time(899.5, **law) - ex.lumped_radiation_time(900.5, **law)
    flux = 0.8 * 5.670374419e-8 * (1173.15**4 - 303.15**4)
    assert step == pytest.approx(100640.0 / flux, rel=1e-5)


def test_kirchhoff_solutions():
    """40 digits: plate and hollow cylinder, then a plate under constant flux."""
    law = {"conductivity": 25.0, "slope": 4e-4, "reference": 1000.0}
    x = np.array([0.01, 0.05, 0.09]) / 0.1
    np.testing.assert_allclose(
        ex.kirchhoff_steady(x, 1450, 600, **law),
        [1376.325781270265, 1060.5175258138734, 699.8295388506812],
        rtol=1e-13,
    )
    share = np.log(np.array([0.03, 0.05, 0.09]) / 0.02) / np.log(5.0)
    np.testing.assert_allclose(
        ex.kirchhoff_steady(share, 1450, 600, **law),
        [1260.6325426791136, 1001.735222906301, 665.8727907861662],
        rtol=1e-13,
    )
    flux = (ex.kirchhoff_potential(1450, **law) - ex.kirchhoff_potential(600, **law)) / 0.1
    assert flux == pytest.approx(214625.0, rel=1e-13)
    np.testing.assert_allclose(
        ex.kirchhoff_plate_flux(
            [1.0, 0.5, 0.0],
            600.0,
            initial=1250,
            flux=120e3,
            half_thickness=0.1,
            conductivity=30,
            heat_capacity=4.81e6,
            slope=3e-4,
            reference=1000,
        ),
        [978.3001618852377, 1124.0454192975599, 1170.0011942652268],
        rtol=1e-12,
    )


def test_kirchhoff_temperature_undoes_the_potential_also_for_falling_conductivity():
    for slope in (-3e-4, 0.0, 5e-4):
        law = {"conductivity": 30.0, "slope": slope, "reference": 900.0}
        t = np.linspace(200.0, 1600.0, 9)
        np.testing.assert_allclose(
            ex.kirchhoff_temperature(ex.kirchhoff_potential(t, **law), **law), t, rtol=1e-13
        )


def test_a_travelling_front_obeys_the_heat_equation_and_both_boundaries():
    law = {"speed": 0.6e-3, "melting": 1500.0, "latent_heat": RHO * 272e3, **SOLID}
    a = 30.0 / (RHO * 680.0)
    x, t, h = 2e-3, 10.0, 1e-5
    temperature = lambda x, t: ex.travelling_front(x, t, **law)  # noqa: E731
    assert temperature(0.0, 10.0) == pytest.approx(1168.3483248345237, rel=1e-13)
    rate = (temperature(x, t + 1e-3) - temperature(x, t - 1e-3)) / 2e-3
    bend = (temperature(x + h, t) - 2 * temperature(x, t) + temperature(x - h, t)) / h**2
    assert rate == pytest.approx(a * bend, rel=1e-4)
    flux = ex.travelling_front_flux(t, speed=0.6e-3, latent_heat=RHO * 272e3, diffusivity=a)
    assert flux == pytest.approx(2209002.7376596057, rel=1e-13)
    assert 30.0 * (temperature(h, t) - temperature(0.0, t)) / h == pytest.approx(flux, rel=1e-3)
    assert temperature(6.1e-3, t) == 1500.0


@pytest.mark.parametrize(
    ("number", "time", "front", "low", "high"),
    [
        (0.1, 0.5, 0.04869959465060073, 0.048695539952916804, 0.04880884817015163),
        (0.1, 20.0, 1.2153360215598839, 1.2028227736840122, 1.2360679774997898),
        (1.0, 0.5, 0.3765592974290109, 0.3613020955135854, 0.41421356237309515),
        (1.0, 5.0, 2.0031788799599646, 1.7169794549259754, 2.3166247903554),
        (4.0, 0.5, 0.8650320889393486, 0.5870459440852992, 1.2360679774997898),
        (4.0, 20.0, 8.029582327224803, 4.112253146682504, 11.68857754044952),
    ],
)
def test_convective_bounds_hold_the_known_front(number, time, front, low, high):
    """Fronts by an independent front-fixing spectral solution, bounds from 40 digits."""
    ours = ex.convective_freezing_bounds(
        time, coefficient=1, ambient=0, melting=1, conductivity=1, heat_capacity=1, latent_heat=1 / number
    )
    assert ours == pytest.approx((low, high), rel=1e-13)
    assert ours[0] < front < ours[1]


def test_impossible_temperatures_are_refused_together():
    with pytest.raises(InputError) as caught:
        ex.freezing_band(wall=1500, solidus=1460, liquidus=1510, initial=1510, **THREE)
    assert "solidus_above_wall" in str(caught.value)
    assert "superheat" in str(caught.value)
    with pytest.raises(InputError, match="conductivity"):
        ex.stefan(wall=0, melting=1, conductivity=-1, heat_capacity=1, latent_heat=1)
    with pytest.raises(InputError, match="biot"):
        ex.plate_convection(0.1, 0.0, -1.0)
