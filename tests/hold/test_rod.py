"""The elastic rod against shapes known from elsewhere, and the order of its method."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq, fsolve

from eyesim.hold.closed_forms import buckling_force, cantilever_deflection, elastica_deflection, helix
from eyesim.hold.rod import follow

ALONG_X = np.array([0.0, 0, 0, 0, 0, 1, 1, 0, 0])  # at the origin, d2 along z, direction x


def moment_at_end(place, wrench):
    return wrench[3:] - np.cross(place[:3], wrench[:3])


def under_load_across(load, steps=96):
    """Tip of a straight rod of length 1, clamped, with a dead force -load along y: no moment is left there."""
    force = np.array([0.0, -load, 0.0])

    def miss(moment):
        wrench = np.concatenate([force, moment])
        return moment_at_end(follow(ALONG_X, wrench, 1.0, 0.0, 0.0, 0.4, steps)[-1], wrench)

    guess = np.zeros(3)
    for share in np.linspace(0.2, 1.0, 5):  # a column may bend in many ways; grow the load to keep the first
        force = np.array([0.0, -load * share, 0.0])
        guess = fsolve(miss, guess, xtol=1e-12)
    return follow(ALONG_X, np.concatenate([force, guess]), 1.0, 0.0, 0.0, 0.4, steps)[-1]


def test_reference_small_deflection_cantilever():
    # handbooks of the mechanics of materials: F L^3 / 3 EI
    tip = under_load_across(1e-3)
    assert -tip[1] == pytest.approx(cantilever_deflection(1e-3, 1.0, 1.0), rel=1e-5)


@pytest.mark.parametrize(("load", "printed"), [(1, 0.3017), (2, 0.4935), (5, 0.7138), (10, 0.8106)])
def test_reference_large_deflection_cantilever(load, printed):
    # Large deflection of cantilever beams, Quarterly of Applied Mathematics 1945;3:272 (table from memory, proved
    # here by elliptic integrals)
    assert elastica_deflection(load) == pytest.approx(printed, abs=1.0e-4)
    assert -under_load_across(load)[1] == pytest.approx(elastica_deflection(load), abs=2e-7)


@pytest.mark.parametrize("ends", ["clamped, free", "clamped, clamped"])
def test_reference_buckling_load_of_a_column(ends):
    # Euler's loads; Theory of Elastic Stability, 2nd ed., 1961, chapter 2
    def stiffness_left(compression):
        """How the end's condition answers the wrench, for the plane in which the column may bend."""

        def end(change):
            wrench = np.array([-compression, 0.0, 0.0, 0.0, 0.0, 0.0])
            wrench[[1, 5]] += change
            place = follow(ALONG_X, wrench, 1.0, 0.0, 0.0, 0.4, 192)[-1]
            if ends == "clamped, free":
                return np.array([wrench[1], moment_at_end(place, wrench)[2]])
            return np.array([place[1], place[7]])

        step = 1e-6
        columns = [(end(step * e) - end(-step * e)) / (2 * step) for e in np.eye(2)]
        return np.linalg.det(np.array(columns).T)

    expected = buckling_force(1.0, 1.0, ends)
    assert brentq(stiffness_left, 0.8 * expected, 1.2 * expected) == pytest.approx(expected, rel=1e-5)


def test_reference_free_rod_with_natural_curvature_and_twist_is_a_helix():
    # Differential Geometry of Curves and Surfaces: constant curvature and torsion
    curvature, torsion, length = 0.4, 0.3, 6.0
    places = follow(ALONG_X, np.zeros(6), length, curvature, torsion, 0.4, 96)
    s = np.linspace(0, length, 97)
    assert np.abs(places[:, :3] - helix(curvature, torsion, s)).max() < 2e-6


@pytest.mark.parametrize("ratio", [0.0, 0.4, 0.5])
def test_reference_straight_rod_under_a_couple_is_a_helix(ratio):
    # A Treatise on the Mathematical Theory of Elasticity, 4th ed., 1927, section 270
    couple, angle, length = 0.5, np.radians(35.0), 6.0
    moment = couple * np.array([np.cos(angle), 0.0, np.sin(angle)])
    places = follow(ALONG_X, np.concatenate([np.zeros(3), moment]), length, 0.0, 0.0, ratio, 96)
    expected = helix(couple * np.sin(angle), couple * np.cos(angle), np.linspace(0, length, 97))
    assert np.abs(places[:, :3] - expected).max() < 2e-6


def test_reference_general_rod_agrees_with_a_general_integrator():
    # scipy.integrate.solve_ivp (DOP853) on the same equations written in directors and quaternion-free form
    wrench, curvature, twist, ratio = np.array([0.3, -0.5, 0.2, 0.1, 0.25, -0.15]), 0.22, 0.1, 0.35

    def rate(_, place):
        r, d2, d3 = place.reshape(3, 3)
        m = wrench[3:] - np.cross(r, wrench[:3])
        w = curvature * d2 + twist * d3 + m + ratio * (m @ d3) * d3
        return np.concatenate([d3, np.cross(w, d2), np.cross(w, d3)])

    peer = solve_ivp(rate, (0, 5.2), ALONG_X, method="DOP853", rtol=1e-12, atol=1e-13).y[:, -1]
    assert np.abs(follow(ALONG_X, wrench, 5.2, curvature, twist, ratio, 768)[-1] - peer).max() < 5e-10


def test_convergence_is_of_fourth_order():
    wrench = np.array([0.3, -0.5, 0.2, 0.1, 0.25, -0.15])
    exact = follow(ALONG_X, wrench, 5.2, 0.22, 0.1, 0.35, 3072)[-1, :3]
    errors = [np.linalg.norm(follow(ALONG_X, wrench, 5.2, 0.22, 0.1, 0.35, n)[-1, :3] - exact) for n in (48, 96, 192)]
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    assert np.all(np.abs(orders - 4.0) < 0.15)


def test_property_frames_stay_orthonormal_and_length_is_kept():
    wrench = np.array([0.3, -0.5, 0.2, 0.1, 0.25, -0.15])
    places = follow(ALONG_X, wrench, 5.2, 0.22, 0.1, 0.35, 192)
    d2, d3 = places[:, 3:6], places[:, 6:9]
    assert np.abs(np.sum(d2 * d2, 1) - 1).max() < 1e-6
    assert np.abs(np.sum(d3 * d3, 1) - 1).max() < 1e-6
    assert np.abs(np.sum(d2 * d3, 1)).max() < 1e-6
    chords = np.linalg.norm(np.diff(places[:, :3], axis=0), axis=1).sum()
    assert chords == pytest.approx(5.2, rel=1e-4)
