"""Rays close to the axis: matrices against closed forms, published tables, laws of optics and exact rays."""

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

import eyesim as es
from eyesim.sight import paraxial, rays
from eyesim.sight.paraxial import entrance_pupil, exit_pupil, propagate, refraction, system
from eyesim.sight.surface import surface

REFERENCE = json.loads((Path(__file__).parents[1] / "reference" / "optics.json").read_text())
CORNEA = ([1 / 7.77, 1 / 6.4], [0.55], [1.0, 1.376, 1.336])

curvatures = st.lists(st.floats(-0.2, 0.2), min_size=1, max_size=5)
gap, index = st.floats(0.0, 10.0), st.floats(1.0, 1.8)


@st.composite
def systems(draw):
    bends = draw(curvatures)
    gaps = [draw(gap) for _ in bends[1:]]
    media = [draw(index) for _ in range(len(bends) + 1)]
    return bends, gaps, media


def pseudophakic(model, radius=None, length=None):
    """Surfaces of a reference eye with its optic in place."""
    eye, optic = model["eye"], model["optic"]
    front = model["optic_midplane_depth_behind_corneal_vertex_when_undisturbed"] - optic["thickness"] / 2
    radii = [optic["anterior_radius"], optic["posterior_radius"]] if radius is None else [radius, -radius]
    bends = [1 / eye["corneal_radius"], 1 / eye["posterior_corneal_radius"], *(1 / r for r in radii)]
    gaps = [eye["corneal_thickness"], front - eye["corneal_thickness"], optic["thickness"]]
    return bends, gaps, [1.0, eye["n_cornea"], eye["n_aqueous"], optic["index"], eye["n_vitreous"]]


@pytest.mark.parametrize("model", REFERENCE["models"].values(), ids=REFERENCE["models"])
def test_reference_pseudophakic_eyes(model):
    # reference/optics.json, paraxial, to the digits printed
    bends, gaps, media = pseudophakic(model)
    eye, expected = model["eye"], model["paraxial"]
    whole, front, rear = system(bends, gaps, media), system(bends[:2], gaps[:1], media[:3]), bends[2:]
    lens = system(rear, gaps[2:], media[2:])
    assert whole.power == pytest.approx(expected["F_eye"], abs=1e-7)
    assert front.power == pytest.approx(expected["F_cornea"], abs=1e-7)
    assert lens.power == pytest.approx(expected["F_iol"], abs=1e-7)
    assert whole.back_focus == pytest.approx(expected["z_F2"], abs=1e-7)
    assert refraction(whole, eye["axial_length"]) == pytest.approx(expected["refraction_cornea_D"], abs=1e-9)
    enters = entrance_pupil(front, eye["iris_depth"] - eye["corneal_thickness"])
    assert enters.position == pytest.approx(expected["z_entrance_pupil"], abs=1e-8)
    vertex = gaps[0] + gaps[1]
    assert vertex + exit_pupil(lens, vertex - eye["iris_depth"]).position == pytest.approx(
        expected["z_exit_pupil"], abs=1e-8
    )


@pytest.mark.parametrize(
    "row", REFERENCE["paraxial_refraction_table"]["rows"],
    ids=lambda r: f"{r['iol_power_D']:g} D in {r['axial_length_mm']:g} mm",
)  # fmt: skip
def test_reference_refraction_table(row):
    # reference/optics.json, paraxial_refraction_table, to the digits printed
    bends, gaps, media = pseudophakic(REFERENCE["models"]["PE-A"], radius=row["iol_radius_mm"])
    whole = system(bends, gaps, media)
    assert system(bends[2:], gaps[2:], media[2:]).power == pytest.approx(row["iol_power_D"], abs=1e-5)
    assert whole.power == pytest.approx(row["F_eye_D"], abs=1e-6)
    at_cornea = refraction(whole, row["axial_length_mm"])
    assert at_cornea == pytest.approx(row["refraction_corneal_vertex_D"], abs=1e-7)
    enters = entrance_pupil(system(*CORNEA), 3.1 - 0.55).position
    assert propagate(at_cornea, enters) == pytest.approx(row["refraction_entrance_pupil_D"], abs=1e-6)
    assert propagate(at_cornea, -12.0) == pytest.approx(row["refraction_spectacle_12mm_D"], abs=1e-7)
    correction = es.sight.Refraction(at_cornea).at_spectacles(12.0)
    assert correction.M == pytest.approx(row["refraction_spectacle_12mm_D"], abs=1e-7)


def test_reference_thick_lens():
    # any textbook of geometrical optics: F = F1 + F2 - (t/n) F1 F2; principal planes t F2 n0 / (n F) and so on
    n, n0, t, c1, c2 = 1.53, 1.336, 0.9, 0.09, -0.05
    f1, f2 = (n - n0) * c1, (n0 - n) * c2
    power = f1 + f2 - t / n * f1 * f2
    lens = system([c1, c2], [t], [n0, n, n0])
    assert lens.power == pytest.approx(1000 * power, rel=1e-14)
    assert lens.front_principal == pytest.approx(n0 * t / n * f2 / power, rel=1e-12)
    assert lens.back_principal == pytest.approx(t - n0 * t / n * f1 / power, rel=1e-12)


def test_reference_ball():
    # a ball of index 2 in air brings parallel light to its own back; its principal points meet in its centre
    ball = system([0.1, -0.1], [20.0], [1.0, 2.0, 1.0])
    assert ball.back_focus == pytest.approx(20.0, abs=1e-12)
    assert (ball.front_principal, ball.back_principal) == pytest.approx((10.0, 10.0), abs=1e-12)


def traced(bends, gaps, media, y, slope):
    """Height and slope behind a system, surface by surface: n'u' = nu - y (n' - n) c."""
    for k, bend in enumerate(bends):
        if k:
            y = y + gaps[k - 1] * slope
        slope = (media[k] * slope - y * (media[k + 1] - media[k]) * bend) / media[k + 1]
    return y, slope


@given(systems(), st.floats(-1, 1), st.floats(-0.3, 0.3))
def test_the_matrix_does_what_refraction_after_refraction_does(parts, y, slope):
    whole, (bends, gaps, media) = system(*parts), parts
    out, leaves = traced(bends, gaps, media, y, slope)
    assert whole.a * y + whole.b * media[0] * slope == pytest.approx(out, abs=1e-9)
    assert (whole.c * y + whole.d * media[0] * slope) / media[-1] == pytest.approx(leaves, abs=1e-9)
    assert whole.a * whole.d - whole.b * whole.c == pytest.approx(1.0, abs=1e-7)  # the optical invariant
    assert whole.length == pytest.approx(sum(gaps))


def strong(parts):
    return abs(system(*parts).power) > 1.0


@given(systems().filter(strong), st.floats(-1, 1))
def test_cardinal_points_do_what_their_names_say(parts, y):
    whole, (bends, gaps, media) = system(*parts), parts
    scale = max(1.0, *(abs(v) for v in (whole.front_focus, whole.back_focus, whole.a, whole.d)))

    def leaves_from(position, slope):
        """Follow a ray through a point on the axis before the system to its height at the first vertex and on."""
        return traced(bends, gaps, media, -position * slope, slope)

    out, slope = traced(bends, gaps, media, y, 0.0)  # parallel light crosses the axis in the back focal point
    assert out + (whole.back_focus - whole.length) * slope == pytest.approx(0.0, abs=1e-8 * scale**2)
    slope = leaves_from(whole.front_focus, 0.01)[1]  # light from the front focal point leaves parallel
    assert slope == pytest.approx(0.0, abs=1e-9 * scale**2)
    out, slope = leaves_from(whole.front_nodal, 0.01)  # aimed at one nodal point, it leaves the other unbent
    assert slope == pytest.approx(0.01, abs=1e-9 * scale**2)
    assert out + (whole.back_nodal - whole.length) * slope == pytest.approx(0.0, abs=1e-8 * scale**2)
    height = y - 0.1 * whole.front_principal  # at the principal planes heights are equal
    out, slope = traced(bends, gaps, media, height, 0.1)
    assert out + (whole.back_principal - whole.length) * slope == pytest.approx(y, abs=1e-8 * scale**2)
    lengths = whole.front_focal_length, whole.back_focal_length
    assert whole.front_focus - whole.front_principal == pytest.approx(lengths[0], rel=1e-9, abs=1e-8)
    assert whole.back_focus - whole.back_principal == pytest.approx(lengths[1], rel=1e-9, abs=1e-8)
    assert whole.power == pytest.approx(1000.0 * media[-1] / lengths[1], rel=1e-12)


@given(systems().filter(strong), st.floats(20.0, 400.0))
def test_newtons_relation_between_object_and_image(parts, far):
    # x x' = f f', distances counted from the focal points
    whole, media = system(*parts), parts[2]
    thing = whole.front_focus - far
    image = whole.back_focus - whole.front_focal_length * whole.back_focal_length / far
    assume(abs(thing) > 1.0 and abs(image) < 1e4)
    assert refraction(whole, image) == pytest.approx(1000.0 * media[0] / thing, rel=1e-6, abs=1e-6)


@given(systems(), st.floats(0.0, 8.0))
def test_pupils_are_images_of_the_stop(parts, gap):
    # light from the middle of the stop comes from the middle of the image, and from its rim from that
    bends, gaps, media = parts
    rear = system(*parts)
    seen = exit_pupil(rear, gap)
    if np.isfinite(seen.position) and abs(seen.magnification) < 1e3:
        for height in (0.0, 1.0):
            for slope in (-0.1, 0.2):
                out, leaves = traced(bends, gaps, media, height + gap * slope, slope)
                there = out + (seen.position - rear.length) * leaves
                assert there == pytest.approx(height * seen.magnification, abs=1e-6)
    mirrored = [-b for b in reversed(bends)], gaps[::-1], media[::-1]  # the entrance pupil is the same, looked at
    other = entrance_pupil(system(*mirrored), gap)  # from the other side
    if np.isfinite(seen.position) and abs(seen.magnification) < 1e3:
        assert other.position == pytest.approx(rear.length - seen.position, rel=1e-6, abs=1e-6)
        assert other.magnification == pytest.approx(seen.magnification, rel=1e-6)


def test_a_system_cut_anywhere_and_joined_again_is_the_same():
    bends, gaps, media = pseudophakic(REFERENCE["models"]["PE-B"])
    whole = system(bends, gaps, media)
    for k in (1, 2, 3):
        front = system(bends[:k], gaps[: k - 1], media[: k + 1])
        joined = front.then(gaps[k - 1], system(bends[k:], gaps[k:], media[k:]))
        for name in ("power", "front_focus", "back_focus", "front_nodal", "back_principal", "length"):
            assert getattr(joined, name) == pytest.approx(getattr(whole, name), rel=1e-13)


def test_everything_broadcasts_and_each_is_what_it_is_alone():
    radius, gap = np.linspace(9.0, 14.0, 5)[:, None], np.linspace(3.0, 6.0, 4)
    many = system([1 / 7.7, 1 / radius, -1 / radius], [gap, 0.8], [1.0, 1.336, 1.46, 1.336])
    wanted, pupil = refraction(many, 23.5), exit_pupil(many, 2.0)
    assert many.power.shape == many.back_nodal.shape == wanted.shape == pupil.position.shape == (5, 4)
    assert "(5, 4)" in repr(many)
    one = system([1 / 7.7, 1 / radius[3, 0], -1 / radius[3, 0]], [gap[2], 0.8], [1.0, 1.336, 1.46, 1.336])
    assert many.back_nodal[3, 2] == one.back_nodal
    assert wanted[3, 2] == refraction(one, 23.5)
    assert pupil.position[3, 2] == exit_pupil(one, 2.0).position
    assert isinstance(one.power, float)


def test_without_power_points_lie_infinitely_far_and_nothing_is_nan():
    plate = system([0.0, 0.0], [3.0], [1.0, 1.5, 1.0])
    for name in ("front_focus", "back_focus", "front_principal", "back_nodal", "back_focal_length"):
        assert np.isinf(getattr(plate, name))
    assert np.isinf(propagate(100.0, 10.0))
    assert entrance_pupil(plate, 4.0).position == pytest.approx(4.0 + 3.0 / 1.5)
    at_focus = entrance_pupil(system([1 / 10.0], [], [1.0, 1.5]), 30.0)  # the stop in the back focal plane
    assert np.isinf(at_focus.position) or abs(at_focus.position) > 1e12


def test_vergence_moved_there_and_back():
    assert propagate(propagate(-4.0, 12.0), -12.0) == pytest.approx(-4.0, rel=1e-14)
    assert propagate(0.0, 12.0) == 0.0
    # a light 1 m away diverges by 1 D; half a metre further on, by 2/3 D
    assert propagate(-1.0, 500.0) == pytest.approx(-1000 / 1500, rel=1e-14)
    assert propagate(-1.336, 500.0, 1.336) == pytest.approx(-1336 / 1500, rel=1e-14)


def test_words_and_wrong_counts():
    assert "59.72 D" in repr(system(*pseudophakic(REFERENCE["models"]["PE-A"])))
    with pytest.raises(es.LearnerError, match="2 surfaces"):
        system([0.1, 0.1], [], [1.0, 1.3, 1.0])


def test_convergence_of_exact_rays_to_the_paraxial_focus_is_of_second_order():
    # of a spherical row of surfaces, the miss shrinks with the square of the height
    bends, gaps, media = pseudophakic(REFERENCE["models"]["PE-A"])
    whole = system(bends, gaps, media)
    depth = np.concatenate([[0.0], np.cumsum(gaps)])
    rows = [surface([0, 0, -z], n, -c) for z, n, c in zip(depth, media[1:], bends, strict=True)]
    heights = np.array([0.4, 0.2, 0.1, 0.05])
    start = np.stack([heights, 0 * heights, 1.0 + 0 * heights], axis=-1)
    got = rays.trace(np.stack(rows), start, [[0.0, 0.0, -1.0]])
    crossing = -(got.points[:, 2] - got.points[:, 0] * got.directions[:, 2] / got.directions[:, 0])
    miss = np.abs(crossing - whole.back_focus)
    order = np.log2(miss[:-1] / miss[1:])
    assert order == pytest.approx(2.0, abs=0.02)
    assert miss[-1] < 1e-3


def test_paraxial_module_knows_no_anatomy():
    names = {name for name in vars(paraxial) if not name.startswith("_")}
    assert not names & {"Eye", "Lens", "Pose"}
