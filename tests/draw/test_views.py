"""The views say in numbers what they draw, draw what was solved, and turn without mirroring."""

import re
import threading
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from contrast import contrast

import eyesim as es
from eyesim import draw
from eyesim.draw import palette
from eyesim.draw.case import shown_case
from eyesim.draw.drawing import CAUTION, Sheet
from eyesim.draw.section import optic_outline

EYE, LENS, FIRST = es.Eye(), es.Lens(), es.Fixation()
SVG = "{http://www.w3.org/2000/svg}"
VIEWS = (draw.front_view, draw.side_view, draw.both_views)


def settled(eye=EYE, lens=LENS, first=FIRST, **second):
    return es.settle(eye, lens, first, FIRST.opposite(**second))


@pytest.fixture(scope="module")
def off():
    return settled(meridian=190.0, iris_angle=12.0)


def points(svg, part):
    """Places [mm] of a drawn part, as (n, 2)."""
    paths = [e for e in ET.fromstring(svg).iter(f"{SVG}path") if e.get("data-part") == part]
    assert len(paths) == 1, f"{part} is drawn {len(paths)} times"
    return np.array([[float(n) for n in pair.split()] for pair in re.split("[MLZ]", paths[0].get("d")) if pair])


def texts(svg):
    return [e.text for e in ET.fromstring(svg).iter(f"{SVG}text")]


@pytest.mark.parametrize("view", VIEWS)
def test_view_is_one_labelled_image_and_the_same_each_time(view, off):
    picture = view(off)
    root = ET.fromstring(picture.svg)
    assert root.get("role") == "img"
    assert root.get("aria-label") == picture.sentence == repr(picture)
    assert root.find(f"{SVG}desc").text == picture.sentence
    assert root.find(f"{SVG}title").text
    assert view(off).svg == picture.svg
    assert " id=" not in picture.svg
    assert "<style" not in picture.svg
    assert CAUTION in texts(picture.svg)
    assert picture._repr_mimebundle_()["text/plain"] == picture.sentence
    assert picture.svg in picture._repr_mimebundle_()["text/html"]


@pytest.mark.parametrize("view", VIEWS)
def test_sentence_and_drawn_numbers_are_the_poses(view, off):
    picture = view(off)
    for number in (f"{off.decentration:.2f} mm", f"{off.tilt:.1f} deg", f"{off.depth:.2f} mm"):
        assert number in picture.sentence
    drawn = " ".join(texts(picture.svg))
    for number in (f"{off.decentration:.2f} mm", f"{off.tilt:.1f}°", f"{off.depth:.2f} mm"):
        assert number in drawn


def test_haptics_are_drawn_as_solved(off):
    curves = es.haptic_curves(off)
    front = draw.front_view(off).svg
    side = draw.side_view(off, along=30.0).svg
    right = np.array([np.cos(np.radians(30.0)), np.sin(np.radians(30.0)), 0.0])
    for k in range(2):
        np.testing.assert_allclose(points(front, f"haptic-{k + 1}"), curves[k, :, :2], atol=5.01e-4)
        seen = np.stack([curves[k] @ right, curves[k, :, 2]], axis=-1)
        np.testing.assert_allclose(points(side, f"haptic-{k + 1}"), seen, atol=5.01e-4)
        openings = np.stack([off.passages[k].inner, off.passages[k].outer])[:, :2]
        np.testing.assert_allclose(points(front, f"tunnel-{k + 1}"), openings, atol=5.01e-4)
        np.testing.assert_allclose(points(front, f"track-{k + 1}"), openings[::-1], atol=5.01e-4)


def test_optic_is_drawn_about_its_centre_with_its_tilt(off):
    edge = points(draw.front_view(off).svg, "optic")
    np.testing.assert_allclose(edge.mean(axis=0), [off.x, off.y], atol=1e-3)
    reach = np.linalg.norm(edge - edge.mean(axis=0), axis=1)
    assert reach.max() == pytest.approx(3.0, abs=2e-3)
    assert reach.min() == pytest.approx(3.0 * np.cos(np.radians(off.tilt)), abs=2e-3)


def test_section_of_an_optic_has_its_thickness_and_slope(off):
    outline = optic_outline(shown_case("test", off), off.tilt_meridian) - [off.x, off.y, off.z]
    assert np.ptp(outline @ off.normal) == pytest.approx(LENS.optic_thickness, abs=1e-9)
    ends = outline[40] - outline[0]
    assert np.degrees(np.arctan2(-ends[2], np.hypot(*ends[:2]))) == pytest.approx(off.tilt, abs=0.1)


def test_section_defaults_to_the_meridian_of_tilt(off):
    assert f"meridian {off.tilt_meridian:.0f} deg" in draw.side_view(off).sentence
    assert "meridian 0 deg (nasal)" in draw.side_view(settled()).sentence
    assert "meridian 0 deg (nasal)" in draw.side_view(off, hidden=True).sentence  # tilt is not given away


def area(ring):
    x, y = ring.T
    return 0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))


@pytest.mark.parametrize(("seat", "side", "turn"), [
    ("superior", "right", 180.0), ("superior", "left", 180.0),
    ("temporal", "right", 90.0), ("temporal", "left", -90.0),
])  # fmt: skip
def test_seat_turns_and_never_mirrors(seat, side, turn):
    pose = settled(eye=es.Eye(side=side), meridian=195.0)
    front, seated = (draw.front_view(pose, seat=s).svg for s in ("front", seat))
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    for part in ("haptic-1", "haptic-2", "track-1", "optic"):
        turned = points(front, part) @ np.array([[c, -s], [s, c]]).T
        np.testing.assert_allclose(points(seated, part), turned, atol=2e-3)
    assert area(points(seated, "optic")) == pytest.approx(area(points(front, "optic")), rel=1e-3)
    assert area(points(seated, "optic")) > 0.0
    assert "rotate(" not in seated  # so words stay upright


def test_temporal_side_is_at_the_bottom_for_who_sits_there():
    for side in ("right", "left"):
        svg = draw.front_view(settled(eye=es.Eye(side=side)), seat="temporal").svg
        heights = {e.text: float(e.get("y")) for e in ET.fromstring(svg).iter(f"{SVG}text")}
        assert heights["temporal"] > heights["superior"] > heights["nasal"]


def test_nasal_is_on_the_observers_right_in_a_right_eye():
    for side, word in (("right", "nasal"), ("left", "temporal")):
        svg = draw.front_view(settled(eye=es.Eye(side=side))).svg
        places = {e.text: float(e.get("x")) for e in ET.fromstring(svg).iter(f"{SVG}text")}
        assert places[word] > 300.0
        assert places["3"] > places["9"]


def test_hidden_gives_nothing_of_the_outcome_away(off):
    other = es.settle(EYE, LENS.but(first_bend=10.0, haptic_length=7.6), off.first, off.second)
    assert abs(other.tilt - off.tilt) > 1.0
    for view in VIEWS:
        one, two = view(off, hidden=True), view(other, hidden=True)
        assert one.svg == two.svg  # same marks and needles, another outcome
        assert "haptic-" not in one.svg
        assert "optic" not in one.svg
        assert f"{off.decentration:.2f}" not in one.sentence


def test_compared_case_is_dashed_and_named(off):
    plain = settled()
    picture = draw.both_views(off, compare=plain)
    assert "Compared (dashed)" in picture.sentence
    assert f"{plain.depth:.2f} mm behind" in picture.sentence
    root = ET.fromstring(picture.svg)
    ghosts = [e for e in root.iter(f"{SVG}path") if (e.get("data-part") or "").startswith("compared")]
    assert len(ghosts) == 6
    assert all(e.get("stroke-dasharray") for e in ghosts)


def test_measured_pose_is_drawn_without_haptics():
    pose = es.Pose(x=0.3, y=0.2, z=-3.5, tilt=7.0, tilt_meridian=40.0)
    picture = draw.both_views(pose, eye=es.Eye(pupil_x=0.3), lens=LENS)
    assert "0.36 mm off centre" in picture.sentence
    assert "0.20 mm from the pupil's centre" in picture.sentence
    assert "haptic-1" not in picture.svg
    with pytest.raises(es.LearnerError, match="needs its eye and lens"):
        draw.front_view(pose)


def test_failing_cases_are_answered_in_words():
    stuck = es.settle(EYE, LENS, FIRST, FIRST.opposite(tunnel_length=None), on_failure="flag")
    assert not stuck.settled
    for view in VIEWS:
        with pytest.raises(es.LearnerError, match="needle never enters the eye"):
            view(stuck)
        hidden = view(stuck, hidden=True)  # the plan itself can be shown
        assert "nan" not in hidden.svg.lower().replace("nance", "")
        with pytest.raises(es.LearnerError, match="one pose is drawn at a time"):
            view(es.Pose(x=np.zeros(3)), eye=EYE, lens=LENS)
        with pytest.raises(es.LearnerError, match="draws a pose"):
            view("nominal")
    assert "needle 2 makes a single-plane pass" in draw.front_view(stuck, hidden=True).sentence  # where to is not told
    with pytest.raises(es.LearnerError, match="seat is 'front'"):
        draw.front_view(settled(), seat="sideways")
    with pytest.raises(es.LearnerError, match="does not exist"):
        Sheet(10, 10).text(np.nan, 0, "nowhere")
    sheet = Sheet(100, 100)
    with pytest.raises(es.LearnerError, match="does not exist"):
        sheet.plane(0, 0, 100, 100, 10).path([(0.0, np.nan), (1.0, 1.0)])


def test_words_are_escaped(off):
    picture = draw.front_view(off, title="<b>A & B</b>")
    assert "<b>A & B</b>" in texts(picture.svg)


EXTREMES = [
    {"meridian": 210.0}, {"iris_angle": 30.0}, {"clockwise": False}, {"exit_angle": 90.0}, {"anchor": "pin"},
    {"limbus_distance": 4.0, "outside": 0.2}, {"outside": 1.6, "locked": False},
]  # fmt: skip


@pytest.mark.parametrize("change", EXTREMES, ids=str)
@pytest.mark.parametrize("lens", [LENS, LENS.but(flipped=True, optic_thickness=0.3)], ids=["lens", "flipped"])
def test_extreme_cases_are_drawn_whole_inside_the_sheet(change, lens):
    pose = es.settle(EYE, lens, FIRST, FIRST.opposite(**change), on_failure="flag")
    picture = draw.both_views(pose, hidden=not pose.settled)
    root = ET.fromstring(picture.svg)
    assert "nan" not in picture.svg.lower().replace("nance", "")
    for text in root.iter(f"{SVG}text"):
        assert 0.0 < float(text.get("x")) < float(root.get("width"))
        assert 0.0 < float(text.get("y")) < float(root.get("height"))
        assert float(text.get("font-size")) >= 13.0  # readable where 900 pixels are shown


def test_palette_stands_out_on_its_panel():
    for text in (palette.INK, palette.QUIET, *palette.HAPTICS, palette.LIMIT, *palette.SERIES):
        for ground in (palette.PANEL, palette.AQUEOUS, "#ffffff"):
            assert contrast(text, ground) >= 4.5, (text, ground)
    for line in (*palette.HAPTICS, palette.INK):
        for ground in (
            palette.SCLERA,
            palette.IRIS,
            palette.REFLEX,
            palette.AQUEOUS,
            palette.WALL,
            palette.CORNEA,
        ):
            assert contrast(line, ground) >= 3.0, (line, ground)
    assert contrast(palette.LIMBUS, palette.SCLERA) >= 3.0
    assert contrast(palette.TRACK, palette.SCLERA) >= 3.0
    assert contrast(palette.MARKER_INK, palette.SCLERA) >= 3.0
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    for dark in ("#111111",):  # on a dark page the panel itself stands out, and carries all the rest
        assert contrast(palette.PANEL, dark) >= 4.5


def test_bands_get_darker_step_by_step():
    light = [contrast(band, "#000000") for band in palette.BANDS]
    assert all(one / two > 1.4 for one, two in zip(light, light[1:], strict=False))


def test_saved_whole_or_refused(off, tmp_path):
    picture = draw.front_view(off)
    path = picture.save(tmp_path / "view.svg")
    assert ET.parse(path).getroot().get("role") == "img"
    assert picture.sentence in picture.save(tmp_path / "view.html").read_text(encoding="utf-8").replace("&#x27;", "'")
    with pytest.raises(es.LearnerError, match="saved as .svg or .html"):
        picture.save(tmp_path / "view.png")
    with pytest.raises(es.LearnerError, match="no folder"):
        picture.save(tmp_path / "missing" / "view.svg")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["view.html", "view.svg"]


def test_drawn_alike_in_threads(off):
    wanted, got = draw.both_views(off).svg, []
    threads = [threading.Thread(target=lambda: got.append(draw.both_views(off).svg)) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert got == [wanted] * 4
