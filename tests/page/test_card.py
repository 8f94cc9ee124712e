"""Cards for the wet lab: true to scale on paper, measured in the PDF itself, and where plain geometry puts things."""

from __future__ import annotations

import io
import math
import re
import xml.etree.ElementTree as ElementTree

import numpy as np
import pypdf
import pytest

import eyesim as es
from eyesim.draw.fonts import fitted, width_of
from eyesim.draw.pdf import sheet_pdf
from eyesim.eye.sources import data_folder
from eyesim.page.card import card, write_card
from eyesim.page.card_aim import Aim
from eyesim.study.plan import read_plan

# ISO 216: A4 is 210 by 297 mm; US letter is 8.5 by 11 inches, an inch is 25.4 mm
PAPER = {"A4": (210.0, 297.0), "letter": (215.9, 279.4)}
EYE = "[eye]\nwhite_to_white = {wide}\nscleral_radius = {radius}\n"
PLANS = {
    "usual": "[first]\n[second]\n",
    "turned": "[first]\nmeridian = 30\nexit_angle = 40\nexit_swing = 10\n[second]\nmeridian = 210\niris_angle = 8\n",
    "upright": "[first]\nmeridian = 90\nlimbus_angle = 10\n[second]\nmeridian = 270\nclockwise = false\n",
    "small": EYE.format(wide=10.2, radius=11.0) + "[first]\nlimbus_distance = 1.5\n[second]\n",
    "large": EYE.format(wide=13.2, radius=13.5) + "[first]\nmeridian = 352\nlimbus_distance = 3\n[second]\n",
    "oblique": "[first]\nmeridian = 60\n[second]\nmeridian = 240\nexit_angle = 30\n",
}  # fmt: skip


def plan_of(tmp_path, text):
    path = tmp_path / "plan.toml"
    path.write_text(f'title = "A plan"\n{text}')
    return read_plan(path)


def operations(content):
    """Paths of a PDF in mm from the top left corner of the page, as lists of operators with points."""
    (page,) = pypdf.PdfReader(io.BytesIO(content)).pages
    matrix, kept, path, found = np.eye(3), [], [], []
    high = float(page.mediabox.height)
    for v, operator in page.get_contents().operations:
        name = operator.decode()
        if name == "q":
            kept.append(matrix)
        elif name == "Q":
            matrix = kept.pop()
        elif name == "cm":
            a, b, c, d, e, f = map(float, v)
            matrix = np.array([[a, b, 0.0], [c, d, 0.0], [e, f, 1.0]]) @ matrix
        elif name in ("m", "l", "c", "h"):
            points = np.array([float(x) for x in v]).reshape(-1, 2)
            placed = np.column_stack([points, np.ones(len(points))]) @ matrix
            path.append((name, np.column_stack([placed[:, 0], high - placed[:, 1]]) * 25.4 / 72.0))
        elif name in ("S", "s", "f", "f*", "B", "B*", "n"):
            found.append(path)
            path = []
    return [p for p in found if p]


def size(path):
    """Width and height of a path by its corners, or of a circle by its ends of curves."""
    ends = np.array([points[-1] for name, points in path if len(points)])
    return np.ptp(ends, axis=0)


def kinds(path):
    return "".join(name for name, _ in path)


def parts(svg):
    return {e.get("data-part"): e for e in ElementTree.fromstring(svg).iter() if e.get("data-part")}


def texts(svg):
    return ElementTree.fromstring(svg).findall(".//{*}text")


def points(element):
    if element.get("d") is None:
        return np.array([[float(element.get("cx")), float(element.get("cy"))]])
    return np.array([[float(v) for v in pair.split()] for pair in re.findall(r"[-0-9.]+ [-0-9.]+", element.get("d"))])


@pytest.mark.parametrize("sheet", PAPER)
@pytest.mark.parametrize("name", ["usual", "small", "large"])
def test_the_pdf_is_true_to_scale(tmp_path, sheet, name):
    plan = plan_of(tmp_path, PLANS[name])
    content = sheet_pdf(card(plan, sheet), sheet)
    (page,) = pypdf.PdfReader(io.BytesIO(content)).pages
    assert [float(v) * 25.4 / 72.0 for v in page.mediabox[2:]] == pytest.approx(PAPER[sheet], abs=0.05)
    paths = operations(content)
    squares = [p for p in paths if kinds(p) == "mlllh" and np.all(np.abs(size(p) - 20.0) < 2.0)]
    assert len(squares) == 1
    assert size(squares[0]) == pytest.approx([20.0, 20.0], abs=0.1)
    lines = [p for p in paths if kinds(p) == "ml" and size(p)[1] < 0.01 and abs(size(p)[0] - 10.0) < 0.4]
    assert len(lines) == 1
    assert size(lines[0])[0] == pytest.approx(10.0, abs=0.1)
    rings = [p for p in paths if kinds(p).startswith("mcccc") and size(p)[0] > 8.0]
    true = min(rings, key=lambda p: size(p)[0])
    assert size(true) == pytest.approx([plan.eye.white_to_white] * 2, abs=0.1)
    corners = np.concatenate([points for p in paths for _, points in p])
    assert np.all(corners > -0.01)  # nothing leaves the page
    assert np.all(corners < np.array(PAPER[sheet]) + 0.05)


@pytest.mark.parametrize("meridian", [0.0, 30.0, 137.0, 265.0])
def test_openings_lie_where_plain_geometry_says(tmp_path, meridian):
    plan = plan_of(tmp_path, f"[first]\nmeridian = {meridian}\nlimbus_distance = 2.5\n[second]\nmeridian = 10\n")
    found = parts(card(plan))
    ring = points(found["true-limbus"])[0]
    # by hand: on a wall of radius R the limbus stands at the angle asin(r / R) from the axis, r = 11.8 / 2; an arc of
    # 2.5 mm further is an angle of 2.5 / R more, and the page shows R times the sine of it
    angle = math.asin(5.9 / 12.0) + 2.5 / 12.0
    out = np.array([math.cos(math.radians(meridian)), -math.sin(math.radians(meridian))])
    outer = points(found["true-outer-1"])[0]
    assert outer - ring == pytest.approx(12.0 * math.sin(angle) * out, abs=0.002)
    # by hand: the tunnel of 2 mm dips 5 deg, so the page shows 2 cos 5, turned by 20 deg from the tangent inwards;
    # clockwise on the page, whose y goes down, the tangent is (-out_y, out_x)
    along = np.array([-out[1], out[0]])
    g = math.radians(20.0)
    step = 2.0 * math.cos(math.radians(5.0)) * (math.cos(g) * along - math.sin(g) * out)
    assert points(found["true-inner-1"])[0] - outer == pytest.approx(step, abs=0.003)
    large = points(found["outer-1"])[0] - points(found["large-limbus"])[0]
    scale = np.hypot(*large) / np.hypot(*(outer - ring))
    assert min(abs(scale - s) for s in (5.0, 4.0, 3.0, 2.5, 2.0)) < 0.002
    assert f"{scale:.3g}:1" in card(plan)


@pytest.mark.parametrize("angle", [-10.0, 0.0, 5.0, 20.0, 45.0, 80.0])
@pytest.mark.parametrize("clockwise", ["true", "false"])
def test_lines_make_the_angle_that_is_written(tmp_path, angle, clockwise):
    text = f"[first]\nmeridian = 100\nlimbus_angle = {angle}\nclockwise = {clockwise}\niris_angle = 25\n[second]\n"
    svg = card(plan_of(tmp_path, text))
    found = parts(svg)
    shaft, tangent = (np.diff(points(found[n]), axis=0)[0] for n in ("shaft-1", "tangent-1"))
    turn = np.degrees(np.arctan2(shaft[0] * tangent[1] - shaft[1] * tangent[0], shaft @ tangent))
    assert turn == pytest.approx(angle * (-1.0 if clockwise == "true" else 1.0), abs=0.05)
    centre, edge = points(found["large-limbus"])[0], points(found["outer-1"])[0]
    assert abs(tangent @ (edge - centre)) < 0.01 * np.hypot(*tangent) * np.hypot(*(edge - centre))  # square to it
    dip = np.diff(points(found["dip-1"]), axis=0)[0]
    assert math.degrees(math.atan2(abs(dip[1]), abs(dip[0]))) == pytest.approx(25.0, abs=0.05)
    assert dip[1] > 0.0  # it goes down, into the eye
    assert (dip[0] < 0.0) == (clockwise == "true")  # clockwise from in front is to the left, from outside the eye
    assert f"{angle:g}°".replace("-", "\N{MINUS SIGN}") in svg


def test_the_turned_end_is_drawn_at_its_angle(tmp_path):
    svg = card(plan_of(tmp_path, PLANS["turned"]))
    start, neck = points(parts(svg)["exit-1"])
    assert math.degrees(math.atan2(neck[1] - start[1], abs(neck[0] - start[0]))) == pytest.approx(40.0, abs=0.1)
    assert "exit 40°, swung 10°" in svg


@pytest.mark.parametrize("meridian", [0.0, 30.0, 75.0])
def test_opposite_passes_are_point_symmetric(tmp_path, meridian):
    plan = plan_of(tmp_path, f"[first]\nmeridian = {meridian}\n[second]\nmeridian = {meridian + 180.0}\n")
    found = parts(card(plan))
    twice = 2.0 * points(found["large-limbus"])[0]
    for name in ("shaft", "tangent", "tunnel", "outer", "inner", "mark", "arc"):
        assert points(found[f"{name}-1"]) + points(found[f"{name}-2"]) == pytest.approx(
            np.broadcast_to(twice, points(found[f"{name}-1"]).shape), abs=0.0025
        )


@pytest.mark.parametrize("side", ["right", "left"])
def test_a_seat_is_at_the_foot_of_the_page(tmp_path, side):
    plan = plan_of(tmp_path, f'[eye]\nside = "{side}"\n[first]\nmeridian = 0\n[second]\nmeridian = 90\n')
    placed = {}
    for seat in ("front", "superior", "temporal"):
        svg = card(plan, seat=seat)
        found = parts(svg)
        placed[seat] = [points(found[f"true-outer-{k}"])[0] - points(found["true-limbus"])[0] for k in (1, 2)]
        assert ("you sit here" in svg) == (seat != "front")
    far = np.hypot(*placed["front"][0])
    # by hand: meridian 0 is at the observer's right, 90 is above; y goes down the page
    assert placed["front"] == pytest.approx(far * np.array([[1.0, 0.0], [0.0, -1.0]]), abs=0.002)
    assert placed["superior"] == pytest.approx(far * np.array([[-1.0, 0.0], [0.0, 1.0]]), abs=0.002)  # 12 o'clock below
    # ISO 8429: meridian 0 is the temple of a left eye, which is then below, and the head at the right; and not mirrored
    below, head = (-1.0, -1.0) if side == "right" else (1.0, 1.0)
    assert placed["temporal"] == pytest.approx(far * np.array([[0.0, below], [head, 0.0]]), abs=0.002)


def test_the_way_of_a_needle_is_told_from_the_seat(tmp_path):
    plan = plan_of(tmp_path, "[first]\n[second]\n")
    assert "your seat" not in card(plan)
    # by hand: clockwise from 3 o'clock goes towards 6 o'clock, away from who sits at 12; from 9 o'clock towards them
    from_head = [t.text for t in texts(card(plan, seat="superior"))]
    i = from_head.index("from your seat it runs")
    assert from_head[i + 1 : i + 3] == ["away from you", "towards you"]
    i = from_head.index("needle ran")
    assert (from_head[i + 1], "towards" in from_head[i:]) == ("away", True)
    # for who sits at the temple of a right eye 12 o'clock is at the left, so from 3 to 6 o'clock it goes to the right
    from_temple = [t.text for t in texts(card(plan, seat="temporal"))]
    i = from_temple.index("from your seat it runs")
    assert from_temple[i + 1 : i + 3] == ["to your right", "to your left"]


@pytest.mark.parametrize(
    ("sheet", "seat"), [("A4", "front"), ("letter", "front"), ("A4", "superior"), ("letter", "temporal")]
)
@pytest.mark.parametrize("name", PLANS)
def test_words_cover_no_other_words_and_stay_on_the_page(tmp_path, sheet, seat, name):
    svg, boxes = card(plan_of(tmp_path, PLANS[name]), sheet, seat), []
    ring = parts(svg)["large-limbus"]
    centre, radius = points(ring)[0], float(ring.get("r"))
    for text in texts(svg):
        x, y, high = (float(text.get(n)) for n in ("x", "y", "font-size"))
        wide = width_of(text.text, high, bool(text.get("font-weight")))
        x -= {"middle": 0.5, "end": 1.0}.get(text.get("text-anchor"), 0.0) * wide
        boxes.append((x, y - 0.73 * high, x + wide, y, text.text))
    assert len(boxes) > 100
    for i, one in enumerate(boxes):
        assert 5.0 < one[0] < one[2] < PAPER[sheet][0] - 5.0, one
        for other in boxes[i + 1 :]:
            apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
            assert apart, (one, other)
    for left, top, right, bottom, words in boxes:  # the limbus runs through no words
        x, y = np.array([left, right]) - centre[0], np.array([top, bottom]) - centre[1]
        near = math.hypot(max(x[0], -x[1], 0.0), max(y[0], -y[1], 0.0))
        assert near > radius or math.hypot(np.abs(x).max(), np.abs(y).max()) < radius, words


def test_sides_and_sentences_follow_the_eye(tmp_path):
    left = card(plan_of(tmp_path, '[eye]\nside = "left"\n[first]\nmeridian = 30\n[second]\nmeridian = 210\n'))
    assert "Left eye" in left
    assert "superotemporal" in left  # at the observer's right of a left eye is its temple: ISO 8429
    assert "mark at 30 deg (2 o&apos;clock" in left or "mark at 30 deg (2 o'clock" in left
    assert es.CAUTION in " ".join(left.split())


def test_the_mean_eye_of_a_population(tmp_path):
    svg = card(read_plan(data_folder() / "demo_plan.toml"))
    assert "mean eye of the plan" in svg
    assert float(parts(svg)["true-limbus"].get("r")) == pytest.approx(5.9, abs=0.001)  # as published: 11.80 mm across


@pytest.mark.parametrize(
    ("meridian", "clock"), [(0.0, "3 o'clock"), (352.0, "3:16"), (90.0, "12 o'clock"), (-15.0, "3:30"), (75.0, "12:30")]
)
def test_the_clock_of_a_mark(meridian, clock):
    eye, fixation = es.Eye(), es.Fixation(meridian=meridian)
    assert Aim(0, eye, fixation, es.needle_pass(eye, fixation)).clock == clock  # an hour is 30 deg, a minute half one


@pytest.mark.parametrize("sheet", PAPER)
def test_files_are_written_once_and_alike(tmp_path, sheet):
    names = write_card(None, tmp_path / "one", sheet)
    assert names == [f"card-{sheet}.pdf", f"card-{sheet}.svg"]
    assert write_card(data_folder() / "demo_plan.toml", tmp_path / "two", sheet) == names
    for name in names:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()
    (page,) = pypdf.PdfReader(tmp_path / "one" / names[0]).pages
    words = " ".join(page.extract_text().split())
    for said in ("1:1", "20 mm", "10 mm", "Print at 100 %", "not fit to page", "first haptic", "second haptic"):
        assert said in words
    assert es.CAUTION in words
    before = (tmp_path / "one" / names[0]).read_bytes()
    (tmp_path / "one" / names[1]).write_text("mine")
    with pytest.raises(es.LearnerError, match="earlier card"):
        write_card(None, tmp_path / "one", sheet)
    assert (tmp_path / "one" / names[1]).read_text() == "mine"
    write_card(None, tmp_path / "one", sheet, force=True)
    assert (tmp_path / "one" / names[0]).read_bytes() == before
    assert (tmp_path / "one" / names[1]).read_text() != "mine"
    assert write_card(None, tmp_path / "one", sheet, seat="temporal")[0] == f"card-{sheet}-temporal.pdf"


def test_what_cannot_be_drawn_is_said_in_words(tmp_path):
    with pytest.raises(es.LearnerError, match="A4 or letter"):
        write_card(None, tmp_path, "A5")
    with pytest.raises(es.LearnerError, match="front, superior, temporal; 'nasal' was given"):
        write_card(None, tmp_path, seat="nasal")
    with pytest.raises(es.LearnerError, match="cannot be read"):
        write_card(tmp_path / "none.toml", tmp_path)
    with pytest.raises(es.LearnerError, match=r"\[first\] is a single-plane pass that never.*tunnel_length"):
        card(plan_of(tmp_path, '[first]\ntunnel_length = "straight"\n[second]\n'))
    (tmp_path / "file").write_text("")
    with pytest.raises(es.LearnerError, match="cannot be kept"):
        write_card(None, tmp_path / "file")
    with pytest.raises(es.LearnerError, match="not the size of letter paper"):
        sheet_pdf(card(plan_of(tmp_path, PLANS["usual"]), "A4"), "letter")
    assert not list(tmp_path.glob("card-*"))


@pytest.mark.parametrize("title", ["<b>&amp; 'x' \\u0007", "W" * 300, "\\u202e\\u4e2d", ""])
def test_any_title_is_words(tmp_path, title):
    path = tmp_path / "plan.toml"
    path.write_text(f'title = "{title}"\n[first]\n[second]\n')
    svg = card(read_plan(path))
    assert sheet_pdf(svg, "A4").startswith(b"%PDF")


@pytest.mark.parametrize(
    "text",
    [
        "[first]\nmeridian = -700\nlimbus_distance = 6\ntunnel_length = 6\n"
        "[second]\nlimbus_angle = -60\niris_angle = -45\n",
        "[first]\niris_angle = 89\nexit_angle = 120\nlimbus_angle = 90\n"
        "[second]\nexit_angle = -60\nlimbus_distance = 0.2\n",
        EYE.format(wide=14.5, radius=9.0) + "[first]\nlimbus_distance = 6\n[second]\ntunnel_length = 0.05\n",
        EYE.format(wide=9.0, radius=20.0) + "white_to_white_vertical = 10.0\n[first]\n[second]\nmeridian = 0\n",
    ],
)
def test_plans_at_the_ends_of_what_can_be_given_are_drawn(tmp_path, text):
    try:
        svg = card(plan_of(tmp_path, text))
    except es.LearnerError:
        return
    assert "nan" not in svg.lower().replace("nanometre", "")
    assert sheet_pdf(svg, "A4").startswith(b"%PDF")


def test_words_are_shortened_to_their_room():
    assert fitted("short", 50.0, 3.0) == "short"
    long = fitted("W" * 300, 50.0, 3.0)
    assert long.endswith("\N{HORIZONTAL ELLIPSIS}")
    assert width_of(long, 3.0) <= 50.0
