"""What was measured does not hang on how the photograph lies or how large it is, and is drawn where it belongs."""

import dataclasses
import re

import numpy as np
import pytest
from demo_photographs import PracticeEye, circle, clicked, true_points

from eyesim import LearnerError
from eyesim.draw.drawing import CAUTION
from eyesim.draw.measured_picture import measured_picture
from eyesim.eye.sources import data_folder
from eyesim.page.measurement import Measurement, measure_files
from eyesim.photo.camera import Known
from eyesim.photo.front import measure_front
from eyesim.photo.photograph import Photograph, read_photograph
from eyesim.photo.points import make_points, read_points

DEMO = data_folder() / "demo"
FRONT, SIDE = ([DEMO / f"{name}.{kind}" for kind in ("jpg", "csv")] for name in ("eye-in-front", "eye-from-the-side"))
KNOWN = Known(camera_from=300.0)


def test_files_are_measured_and_drawn_at_once():
    done = measure_files(*FRONT, KNOWN)
    assert isinstance(done, Measurement)
    assert repr(done) == done.words
    assert repr(done.result) == repr(measure_front(read_points(FRONT[1]), KNOWN)) == done.picture.sentence
    assert done.words.startswith("The optic's centre lies")
    assert CAUTION in done.picture.svg
    assert "mark1: " in done.picture.svg
    assert "line2: " in done.picture.svg


def test_a_section_is_drawn_with_its_tilt():
    done = measure_files(*SIDE, Known(white_to_white=11.8))
    assert "Tilt in the plane of the picture 6" in done.picture.svg
    assert "Depth behind" in done.picture.svg
    assert CAUTION in done.picture.svg


def test_ellipses_are_drawn_on_the_true_edges():
    """Truth: the projection of the eye that was painted, `PracticeEye.seen`."""
    eye = PracticeEye(obliquity=20.0, camera_meridian=40.0)
    points = make_points(true_points(eye))
    photo = Photograph("eye.png", eye.width, eye.height, b"")
    found = measure_front(points, Known(white_to_white=11.8))
    paths = re.findall(r'<path[^>]* d="(M[^"]*Z)"', measured_picture(photo, points, found).svg)
    assert len(paths) == 4  # dark below light, of limbus and optic
    edges = (circle(5.9, 3600), circle(3.0, 3600, eye.x, eye.y, -eye.depth))
    for path, edge in zip(paths[1::2], edges, strict=True):
        drawn = np.array(re.findall(r"-?[\d.]+", path), float).reshape(-1, 2) * [1.0, -1.0]
        near = np.hypot(*(drawn[:, None] - eye.seen(edge)).transpose(2, 0, 1)).min(axis=1)
        assert near.max() < 0.5  # [px]: points of the true edge lie 0.4 px apart


@pytest.mark.parametrize("left", ["optic", "mark1", "line1"])
def test_what_was_not_pointed_at_is_not_drawn(left):
    points = read_points(FRONT[1])
    points = dataclasses.replace(points, of={name: spot for name, spot in points.of.items() if name != left})
    svg = measured_picture(read_photograph(FRONT[0]), points, measure_front(points, KNOWN)).svg
    assert f"{left}:" not in svg
    assert ("Yellow: optic" in svg) is (left != "optic")


def test_the_picture_is_saved_whole_and_names_no_file_that_does_not_exist(tmp_path):
    done = measure_files(*FRONT, KNOWN)
    saved = done.picture.save(tmp_path / "measured.svg").read_text()
    assert saved.startswith("<?xml")
    assert 'role="img"' in saved
    with pytest.raises(LearnerError, match="none.csv"):
        measure_files(FRONT[0], tmp_path / "none.csv", KNOWN)


def test_words_stay_within_the_photograph():
    eye = PracticeEye(marks=((2.0, 2.0), (180.0, 2.2)), lines=(), width=780)
    points = make_points(true_points(eye))
    found = measure_front(points, Known(white_to_white=11.8))
    svg = measured_picture(Photograph("eye.png", eye.width, eye.height, b""), points, found).svg
    for x, size, anchor, words in re.findall(
        r'<text x="([\d.]+)"[^>]*font-size="([\d.]+)"[^>]*text-anchor="(\w+)"[^>]*>([^<]*)</text>', svg
    ):
        wide = 0.62 * float(size) * len(words) * {"start": 1.0, "end": -1.0}[anchor]
        assert 0.0 <= float(x) + wide <= 900.0, words


# --- the same eye, photographed otherwise -----------------------------------------------------------------------

NAMES = ("decentration", "optic_diameter", "white_to_white", "obliquity")


def numbers(found):
    """All numbers that hang on neither turn nor scale, with the ends of their intervals."""
    told = [getattr(found, name) for name in NAMES]
    told += [one for mark in found.marks for one in (mark.limbus_distance,)]
    told += [one for line in found.lines for one in (line.limbus_distance, line.limbus_angle)]
    return np.array([(one.value, one.low, one.high) for one in [*told, found.apart]])


def meridians(found):
    return np.array([one.meridian.value for one in (found, *found.marks, *found.lines)])


@pytest.mark.parametrize("side", [None, 40.0])
@pytest.mark.parametrize("turn", [90.0, 180.0, 33.0, -120.5])
def test_turning_the_picture_turns_the_meridians_and_nothing_else(turn, side):
    eye = PracticeEye(obliquity=15.0, camera_meridian=40.0, x=0.5, y=-0.3)
    places = clicked(true_points(eye), 1.5, np.random.default_rng(3))
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))  # counter-clockwise as seen, y down
    turned = {name: spot @ np.array([[c, -s], [s, c]]) + 2000.0 for name, spot in places.items()}
    known = Known(white_to_white=11.8, camera_from=side)
    before = measure_front(places, known)
    after = measure_front(turned, known if side is None else known.but(camera_from=side + turn))
    assert np.cos(np.radians(meridians(after) - meridians(before) - turn)) == pytest.approx(1.0, abs=1e-5)
    one, other = numbers(before), numbers(after)
    assert other[:, 0] == pytest.approx(one[:, 0], rel=1e-4, abs=1e-4)
    width = (one[:, 2] - one[:, 1])[:, None]  # the ends come of draws, which are others now
    assert np.all(np.abs(other[:, 1:] - one[:, 1:]) < 0.15 * width)


@pytest.mark.parametrize("larger", [0.5, 3.0, 10.0])
def test_a_larger_picture_changes_nothing_in_millimetres(larger):
    places = clicked(true_points(PracticeEye()), 1.5, np.random.default_rng(4))
    known = Known(white_to_white=11.8, camera_from=300.0)
    before = measure_front(places, known)
    scaled = {name: larger * spot for name, spot in places.items()}
    after = measure_front(scaled, known.but(click=larger * known.click))
    assert numbers(after) == pytest.approx(numbers(before), rel=1e-5, abs=1e-5)
    assert meridians(after) == pytest.approx(meridians(before), abs=1e-4)
    assert after.scale.value == pytest.approx(larger * before.scale.value, rel=1e-6)


def test_a_mirrored_picture_mirrors_meridians_and_the_way_of_lines():
    places = true_points(PracticeEye(obliquity=0.0))
    mirrored = {name: spot * [-1.0, 1.0] + [900.0, 0.0] for name, spot in places.items()}
    before, after = (measure_front(spots, Known(white_to_white=11.8)) for spots in (places, mirrored))
    assert np.cos(np.radians(meridians(after) + meridians(before) - 180.0)) == pytest.approx(1.0, abs=1e-6)
    assert after.x.value == pytest.approx(-before.x.value, abs=1e-4)
    assert after.y.value == pytest.approx(before.y.value, abs=1e-4)
    for one, other in zip(before.lines, after.lines, strict=True):
        assert other.clockwise is not one.clockwise
        assert other.limbus_angle.value == pytest.approx(one.limbus_angle.value, abs=1e-3)
