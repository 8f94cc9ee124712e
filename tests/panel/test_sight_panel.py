"""The panel of what a patient sees: set a slider, read the sentence, the chart and the verdict."""

import asyncio
import re
import time

import numpy as np
import pytest

import eyesim as es
from eyesim import lesson
from eyesim.draw.letters import letter_chart
from eyesim.panel import moved_lens, sight_panel
from eyesim.panel.question import ask
from eyesim.study.sight_verdict import row_words

EYE = es.Eye()


@pytest.fixture
def panel():
    return sight_panel()


def region(panel, name):
    return panel._board._now["regions"].get(name, "")


def lens_view(panel):
    return panel._board._pictures["eye"].svg


def say(panel, kind, name, value=None):
    """Do something as a hand in a page does it."""
    panel._board.widget._handle_custom_msg({"kind": kind, "name": name, "value": value, "view": "page", "turn": 1}, [])


def parts(content):
    yield content
    for child in content.get("children", []):
        yield from parts(child)


def layout(panel):
    return {part["name"]: part for part in parts(panel._board.widget.board["content"]) if "name" in part}


def test_it_begins_in_its_place_with_two_sliders_and_the_caution(panel):
    assert "The lens lies where it should" in repr(panel)
    assert "It does not matter" in repr(panel)
    assert es.CAUTION in region(panel, "caution")
    assert "not for planning care" in region(panel, "chart")
    assert panel.seen == ["deeper", "tilt"]
    say(panel, "set", "more", True)
    assert panel.seen == list(panel.state)


def test_words_and_chart_agree_with_direct_tracing(panel):
    say(panel, "set", "deeper", 0.5)
    say(panel, "set", "tilt", 6.0)
    panel.set(off=0.4, off_towards=90.0, tilt_towards=45.0, pupil=4.0)
    pose = lesson.moved(panel.planned, deeper=0.5, tilt=6.0, tilt_meridian=45.0, y=0.4)
    sight = es.refract(EYE, panel.lens, pose, pupil=4.0)
    assert np.allclose(panel.sight.zernike, sight.zernike, atol=1e-9)
    assert f"Chamber depth {sight.chamber_depth:.2f} mm" in repr(panel)
    assert lesson.reads(sight).fraction in repr(panel)
    assert f"{sight.sphere:+.2f} D sphere, {sight.cylinder:+.2f} D cylinder" in repr(panel)
    assert str(lesson.sight_matters(sight, es.refract(EYE, panel.lens, panel.planned, pupil=4.0))) in repr(panel)
    assert panel.picture().sentence == repr(panel) == panel.sentence
    assert "<image" in panel.picture().svg
    assert region(panel, "chart") == panel.picture().svg == letter_chart(sight).svg


def test_every_preset_is_told_and_reset_goes_back(panel):
    start, first = panel.state, repr(panel)
    told, known = {first}, layout(panel)
    for i, name in enumerate(panel.presets[1:], start=1):
        assert known[f"preset_{i}"]["words"] == name
        say(panel, "press", f"preset_{i}")
        assert panel.state != start, name
        assert not re.search(r"\bnan\b|\binf\b", repr(panel))
        told.add(repr(panel))
        for control, value in panel.controls.items():
            steps = (value - known[control]["low"]) / known[control]["step"]
            assert abs(steps - round(steps)) < 1e-6, (name, control)
    assert len(told) == len(panel.presets)
    panel.reset()
    assert panel.state == start
    assert repr(panel) == first


def test_presets_say_what_the_lesson_says(panel):
    verdicts = {}
    for name in panel.presets:
        panel.preset(name)
        verdicts[name] = repr(panel).split("um")[-1]
    assert "It matters until there are glasses" in verdicts["0.5 mm too deep"]
    assert "It does not matter" in verdicts["Tilted 5 deg"]
    assert "It matters until there are glasses" in verdicts["Tilt and shift that add up"]
    assert "It does not matter" in verdicts["Tilt and shift that cancel"]
    assert "At this pupil" in verdicts["Wide pupil"]
    assert "misses the optic: glare" in verdicts["Wide pupil, edge of the optic in it"]


def test_power_meant_for_a_capsule_is_too_strong_here(panel):
    panel.preset("Power meant for a capsule")
    assert panel.state["power"] > panel.lens.power + 1.0
    assert panel.sight.M < -1.0
    assert f"The lens lies where it should; its power is {panel.state['power']:.1f} D instead of" in repr(panel)


def test_a_toric_lens_can_be_turned_and_no_other():
    assert "turn" not in sight_panel().state
    eye, lens = lesson.sight.toric_case()
    panel = sight_panel(eye, lens)
    assert abs(panel.sight.cylinder) < 0.01
    panel.set(turn=30.0)
    bare = es.refract(eye, lens.but(toric_cylinder=0.0), panel.planned)
    assert panel.sight.cylinder == pytest.approx(bare.cylinder, abs=0.02)
    assert "turned 30 deg" in repr(panel)


def test_hiding_keeps_chart_and_numbers_away_but_shows_the_lens(panel):
    panel.set(deeper=0.5)
    say(panel, "set", "hide", True)
    told = "".join(panel._board._now["regions"].values()) + panel._board._now["said"]
    assert "<image" not in told
    assert "20/" not in told
    assert "It matters" not in told
    assert "From the side" in lens_view(panel)
    say(panel, "set", "hide", False)
    assert "<image" in region(panel, "chart")
    assert "It matters" in region(panel, "readout")


def test_what_is_kept_stands_below(panel):
    panel.set(deeper=0.5)
    say(panel, "set", "keep", True)
    kept = f"{panel.sight.M:+.2f} D"
    panel.reset()
    assert f"A, kept to compare: {kept}" in region(panel, "kept")
    panel.choose(hide=True)
    assert "kept" not in "".join(panel._board._now["regions"].values())
    panel.choose(hide=False, keep=False)
    assert "kept" not in "".join(panel._board._now["regions"].values())
    with pytest.raises(es.LearnerError):
        panel.choose(seat="superior")


def test_what_is_kept_is_drawn_beside_the_next(panel):
    panel.set(deeper=0.5)
    charts = re.findall(r"<image[^>]+>", region(panel, "chart"))
    panel.choose(keep=True)
    depth = panel.planned.depth + 0.5
    panel.set(deeper=-0.5)
    chart = region(panel, "chart")
    assert "A: kept, without glasses" in chart
    assert "B: now, without glasses" in chart
    assert re.findall(r"<image[^>]+>", chart)[0] == charts[0]  # the same picture, in the same place
    assert f"{depth:.2f} mm behind the limbal plane" in lens_view(panel)  # of the dashed lens
    assert "Dashed: as kept (A)" in region(panel, "dashed")
    panel.choose(keep=False)
    assert "Dashed: where the lens should lie" in region(panel, "dashed")


def test_the_chart_follows_at_rest_and_is_marked_until_then():
    async def main():
        panel = sight_panel()
        await rested(panel)
        first = region(panel, "chart")
        assert "<image" in first
        for tilt in (2.0, 4.0, 6.0):
            say(panel, "set", "tilt", tilt)
            assert f"tilted {tilt:.1f} deg" in region(panel, "readout")
            assert f"{tilt:.1f}°" in lens_view(panel)
            assert region(panel, "chart") == first
            assert "The chart follows" in region(panel, "follows")
        await rested(panel)
        assert region(panel, "chart") == panel.picture().svg != first
        say(panel, "set", "tilt", 8.0)
        say(panel, "set", "tilt", 6.0)  # back before the other was drawn: the chart is that of this place
        assert region(panel, "follows") == ""
        say(panel, "set", "tilt", 9.0)
        say(panel, "set", "hide", True)
        await asyncio.sleep(0.3)
        assert region(panel, "chart") == region(panel, "follows") == ""
        say(panel, "set", "hide", False)
        say(panel, "set", "keep", True)
        say(panel, "set", "deeper", 0.5)
        await rested(panel)
        assert "A: kept" in region(panel, "chart")

    asyncio.run(main())


async def rested(panel):
    """Wait until no chart is asked for any more."""
    end = time.monotonic() + 20.0
    while panel._chart_at_rest.asked is not None and time.monotonic() < end:
        await asyncio.sleep(0.01)
    assert region(panel, "follows") == ""


def test_a_chart_that_cannot_be_drawn_says_so(panel, monkeypatch):
    def refuse(*_, **__):
        raise es.LearnerError("No <chart> today.")

    monkeypatch.setattr(moved_lens, "letter_chart", refuse)
    panel.set(tilt=3.0)
    assert "No &lt;chart&gt; today." in region(panel, "chart")
    assert region(panel, "follows") == ""
    assert "tilted 3.0 deg" in region(panel, "readout")


def test_the_lens_moves_by_its_slope_until_its_picture_comes(panel):
    panel.set(tilt=5.0, off=0.2, off_towards=30.0)
    here = panel._board._pictures["eye"].drawing
    told = []
    panel._board.widget.send = lambda content, buffers=None: told.append((content, buffers))
    say(panel, "slope", "deeper")
    stage = told[-1][0]["stages"]["eye"]
    places = np.frombuffer(told[-1][1][0], np.uint32)
    slopes = np.frombuffer(told[-1][1][1], np.float32)
    assert stage["form"] == here.form
    moved = here.numbers.copy()
    moved[places] += 0.1 * slopes
    panel.set(deeper=0.1)
    there = panel._board._pictures["eye"].drawing
    assert there.form == here.form
    assert np.abs(there.numbers - here.numbers).max() > 0.05
    assert np.abs(there.numbers - moved).max() < 0.02


def test_a_section_that_jumps_to_another_meridian_does_not_count_as_movement(panel):
    panel.set(
        off=0.4, off_towards=0.0, tilt=5.0, tilt_towards=45.0
    )  # both at their limits: the least shift more turns it
    told = []
    panel._board.widget.send = lambda content, buffers=None: told.append((content, buffers))
    say(panel, "slope", "off")
    slopes = np.frombuffer(told[-1][1][1], np.float32)
    assert 0.5 < np.abs(slopes).max() < 50.0  # mm or px a mm


def test_the_lens_is_cut_along_the_larger_of_shift_and_tilt(panel):
    panel.set(off=1.0, off_towards=0.0, tilt=5.0, tilt_towards=90.0)
    assert "meridian 0 deg (nasal) at the right" in lens_view(panel)
    panel.set(off=0.2)
    assert "meridian 90 deg (superior) at the right" in lens_view(panel)
    panel.set(tilt=0.0, off_towards=45.0)
    assert "meridian 45 deg" in lens_view(panel)


def test_what_the_optic_would_touch_is_said(panel):
    assert "touch" not in repr(panel)
    panel.set(deeper=-1.0)
    assert "would touch the iris" in region(panel, "readout")
    panel.set(deeper=-2.0, tilt=30.0, off=3.0)
    assert "would touch the cornea" in region(panel, "readout")
    assert "would touch the cornea" in repr(panel)


@pytest.mark.parametrize("power", [-5.0, 40.0])
def test_a_wrong_lens_is_said_to_be_wrong_before_its_place_is_judged(power):
    panel = sight_panel(lens=es.Lens().with_power(power))
    assert "Even in its place this lens leaves 20/" in repr(panel)
    assert "It does not matter" not in repr(panel)
    assert "Nothing is lost beyond that" in region(panel, "readout")
    panel.set(deeper=1.0, tilt=10.0)
    words = region(panel, "readout")
    assert words.index("Even in its place") < words.index("The lens lies 1.00 mm deeper")


def test_more_sliders_can_be_put_away_again(panel):
    for more, count in ((True, len(panel.state)), (False, 2), (True, len(panel.state))):
        say(panel, "set", "more", more)
        assert len(panel.seen) == count
    panel.set(pupil=5.0)
    say(panel, "set", "more", False)  # not while one of them stands elsewhere
    assert "pupil" in panel.seen


def test_a_button_is_pressed_by_its_words(panel):
    panel.set(tilt=3.0)
    panel.preset("Reset: as planned")
    assert panel.state["tilt"] == 0.0
    with pytest.raises(es.LearnerError, match="It knows: Reset: as planned, Tilted 5 deg"):
        panel.preset("Tilt")
    with pytest.raises(es.LearnerError, match="Did you mean 'Wide pupil'"):
        panel.preset("wide pupils")


def test_an_eye_without_an_image_is_told_in_words(panel):
    panel.set(off=3.0, pupil=4.0)
    assert "not covered by the optic" in repr(panel)
    assert "not covered by the optic" in region(panel, "readout")
    assert "There is no image to show" in region(panel, "readout")
    assert region(panel, "chart") == ""
    assert panel.sight is None
    assert panel.picture().sentence == repr(panel)
    panel.reset()
    assert "<image" in region(panel, "chart")


def test_controls_are_named_with_units(panel):
    known = layout(panel)
    for name, value in panel.controls.items():
        assert known[name]["words"]
        assert known[name]["unit"] in ("mm", "deg", "D")
        assert known[name]["low"] <= value <= known[name]["high"]
    for control in known.values():
        if control["kind"] == "button":
            assert control["words"]
            assert control["hint"]
    now = panel._board._now
    for part in ("values", "regions", "words"):
        assert set(now[part]) <= set(known)


def test_junk_is_refused_in_words_and_leaves_the_panel_as_it_was(panel):
    before = panel.state
    for junk in ({"x": 1}, {"tilt": "3"}, {"tilt": float("nan")}, {"tilt": 1e6}, {"off": None}, {"off": [1, 2]}):
        with pytest.raises(es.LearnerError):
            panel.set(**junk)
    with pytest.raises(es.LearnerError):
        panel.preset("nonsense")
    assert panel.state == before
    several = es.Eye(axial_length=[22.0, 24.0])
    for junk in ({"eye": 3}, {"lens": "x"}, {"eye": several}, {"pose": (0, 0)}, {"pose": es.Pose(x=[0.0, 0.1])}):
        with pytest.raises(es.LearnerError, match="sight_panel"):
            sight_panel(**junk)
    with pytest.raises(es.LearnerError, match="no refraction"):
        sight_panel(pose=es.Pose(x=4.0))


def test_other_eyes_lenses_and_planned_places():
    first = es.Fixation(meridian=90.0, iris_angle=15.0)
    eye = es.Eye(axial_length=21.5, side="left")
    pose = es.settle(eye, es.Lens(), first, first.opposite())
    panel = sight_panel(eye, pose=pose)
    assert panel.planned.depth == pytest.approx(pose.depth)
    assert abs(panel.sight.M) < 0.25
    given = sight_panel(eye, es.Lens(), pose)
    assert given.lens.power == es.Lens().power
    assert given.sight.M > 1.0


def test_shown_as_a_widget_with_chart_and_sentence_beside_it(panel):
    bundle = panel._repr_mimebundle_()
    assert bundle["text/plain"] == repr(panel)
    assert bundle["application/vnd.jupyter.widget-view+json"]["model_id"] == panel.widget.model_id
    assert bundle["image/svg+xml"] == panel.picture().svg


@pytest.mark.parametrize(("start", "name"), [("As planned", "deeper"), ("Wide pupil, edge of the optic in it", "off")])
def test_a_new_value_is_told_before_the_chart(start, name):
    """How soon is measured by `tests/benchmarks/slider_speed.py`."""

    async def main():
        panel = sight_panel()
        panel.preset(start)
        for value in np.arange(0.05, 1.0, 0.1):
            say(panel, "set", name, float(round(value, 2)))
            assert f"{value:.2f} mm" in region(panel, "readout")
        await rested(panel)

    asyncio.run(main())


def test_a_question_of_sight_is_answered_with_the_chart():
    asked = ask("sight.which-one")
    asked.answer = "a"
    asked.commit()
    assert asked.feedback.misconception == "tilted"
    assert "Letter chart as seen" in region(asked, "feedback")
    assert "As planned: " in region(asked, "feedback")
    assert "reads 20/" in region(asked, "feedback")
    assert row_words(lesson.reads(lesson.predict("sight.which-one").result()[0])) in region(asked, "feedback")
