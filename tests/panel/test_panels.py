"""Panels and questions with buttons, without a browser: set a slider, read the sentence and the board."""

import asyncio
import html
import re
import threading
import time

import numpy as np
import pytest
from page import Page, layout, off, shown

import eyesim as es
from eyesim import lesson
from eyesim.panel import hand, hand_panel, passes
from eyesim.panel.question import ask

EYE, LENS = es.Eye(), es.Lens()
FIRST = es.Fixation(meridian=0.0)
MAKERS = {"marks": passes.marks_panel, "needle": passes.needle_panel, "tunnel": passes.tunnel_panel}


@pytest.fixture(params=MAKERS)
def panel(request):
    return MAKERS[request.param]()


def lies(first=None, second=None):
    return es.settle(EYE, LENS, FIRST.but(**(first or {})), FIRST.opposite().but(**(second or {})))


def test_start_is_as_planned_and_shows_caution(panel):
    assert "It does not matter" in repr(panel)
    assert "<svg" in shown(panel)
    assert "not for planning care" in shown(panel)
    assert es.CAUTION in panel._board._now["regions"]["caution"]


def test_repr_agrees_with_a_direct_settle():
    panel = passes.marks_panel()
    page = Page(panel)
    page.say("set", "mark_against", -5.0)
    page.say("set", "mark_both", 5.0)
    pose = lies(second={"meridian": 190.0})
    assert panel.state["mark_second"] == 10.0
    assert panel.settled.decentration == pytest.approx(pose.decentration)
    assert f"{pose.decentration:.2f} mm off centre" in repr(panel)
    assert "It matters" in repr(panel)
    assert f"{pose.decentration:.2f} mm off centre" in shown(panel)


def test_both_and_each_side_are_the_same_numbers():
    one, other = passes.tunnel_panel(), passes.tunnel_panel()
    hand = Page(one)
    hand.say("set", "tunnel_both", 1.5)
    hand.say("set", "tunnel_against", -0.5)
    Page(other).say("set", "tunnel_first", 1.0)
    assert one.state == other.state
    assert repr(one) == repr(other)
    assert other.controls["tunnel_against"] == pytest.approx(-0.5)
    assert one.controls["tunnel_second"] == pytest.approx(2.0)


def test_changing_the_way_of_setting_changes_no_number(panel):
    page = Page(panel)
    for name in panel.presets[1:]:
        panel.preset(name)
        before = panel.state
        for mode in ("each", "together"):
            page.say("set", "mode", mode)
            assert panel.state == before
            ends = ("_first", "_second") if mode == "each" else ("_both", "_against")
            sides = [c for c in panel.seen if c.endswith(("_first", "_second", "_both", "_against"))]
            assert sides
            assert all(c.endswith(ends) for c in sides)


def test_every_preset_is_told_and_reset_goes_back(panel):
    start, first = panel.state, repr(panel)
    told, page = {first}, Page(panel)
    for i, name in enumerate(panel.presets[1:], start=1):
        assert layout(panel)[f"preset_{i}"]["words"] == name
        page.say("press", f"preset_{i}")
        assert panel.state != start, name
        assert len(repr(panel)) > 80
        assert "nan" not in repr(panel)
        told.add(repr(panel))
    assert len(told) == len(panel.presets)
    page.say("press", "preset_0")
    assert panel.state == start
    assert repr(panel) == first


def test_needle_that_never_enters_is_told_in_words():
    panel = passes.needle_panel()
    Page(panel).say("set", "dip_both", 3.0)
    assert "never enters the eye" in repr(panel)
    assert "never enters the eye" in panel._board._now["regions"]["readout"]
    assert "never enters at 3.0 deg" in shown(panel)
    assert panel.picture().sentence == repr(panel)


def test_haptic_that_cannot_reach_is_told_in_words():
    panel = passes.tunnel_panel()
    panel.set(outside_first=2.0, outside_second=2.0, tunnel_first=3.0, tunnel_second=3.0)
    assert "cannot reach" in repr(panel)
    assert "cannot reach" in shown(panel)


def test_depth_matters_where_both_sides_are_wrong_alike():
    panel = passes.needle_panel()
    panel.preset("Both too steep")
    assert "deeper than planned" in repr(panel)
    assert "It matters" in repr(panel)


def test_the_thinner_sclera_is_thinner_and_its_tunnel_shorter():
    panel = passes.needle_panel()
    panel.preset("Sclera thinner on one side")
    assert panel.state["wall_second"] == pytest.approx(panel.state["wall_first"] - 0.1)
    first, second = panel.settled.passages
    assert second.tunnel_length < first.tunnel_length


def test_sliders_that_do_not_count_are_off():
    panel = passes.needle_panel()
    page = Page(panel)
    assert "turn_both" in off(panel)
    assert "wall_both" not in off(panel)
    page.say("set", "turned", True)
    page.say("set", "straight", False)
    assert "turn_both" not in off(panel)
    assert "wall_both" in off(panel)


def test_controls_are_named_with_units_and_stand_on_their_scales(panel):
    known = layout(panel)
    assert set(panel.controls) <= set(known)
    for name, value in panel.controls.items():
        control = known[name]
        assert control["words"]
        if control["kind"] == "slider":
            assert control["unit"] in ("deg", "mm", "mN")
            assert control["low"] <= value <= control["high"]
        else:
            assert control["kind"] == "tick"
    for control in known.values():
        if control["kind"] == "button":
            assert control["words"]
            assert control["hint"]


def test_what_is_told_is_on_the_board(panel):
    known = layout(panel)
    now = panel._board._now
    for part in ("values", "regions", "words"):
        assert set(now[part]) <= set(known)
    assert {*now["off"], *now["gone"], *panel._board._pictures} <= set(known)


def test_hiding_keeps_the_outcome_off_the_board():
    panel = passes.marks_panel()
    panel.set(mark_second=10)
    page = Page(panel)
    page.say("set", "hide", True)
    assert "0.54 mm" not in shown(panel)
    assert "It matters" not in shown(panel)
    assert panel._board._now["said"] == "The outcome is hidden."
    page.say("set", "hide", False)
    assert "0.54 mm" in shown(panel)


def test_keeping_seat_eye_and_limits():
    panel = passes.marks_panel()
    panel.set(mark_second=10)
    panel.choose(keep=True)
    panel.reset()
    assert "Compared" in shown(panel)
    panel.choose(keep=False)
    assert "Compared" not in shown(panel)
    panel.choose(seat="temporal", eye="left")
    assert "left eye" in shown(panel)
    panel.set(mark_second=10)
    Page(panel).say("typed", "limit_decentration", "0,6")
    assert "It does not matter" in repr(panel)
    with pytest.raises(es.LearnerError):
        panel.choose(seat="below")
    with pytest.raises(es.LearnerError):
        panel.choose(colour="red")


def test_junk_is_refused_in_words_and_leaves_the_panel_as_it_was(panel):
    name = next(iter(panel.state))
    before = panel.state
    for junk in ({"x": 1}, {name: "3"}, {name: float("nan")}, {name: 1e6}, {name: None}, {name: [1, 2]}):
        with pytest.raises(es.LearnerError):
            panel.set(**junk)
    with pytest.raises(es.LearnerError):
        panel.preset("nonsense")
    assert panel.state == before
    for junk in ({"eye": 3}, {"lens": "x"}, {"eye": es.Eye(white_to_white=np.array([11.0, 12.0]))}, {"tilt": -1}):
        with pytest.raises(es.LearnerError):
            passes.marks_panel(**junk)


def test_a_typed_number_is_read_with_point_or_comma_and_refused_beyond_the_scale():
    panel = passes.marks_panel()
    page = Page(panel)
    page.say("typed", "mark_both", "2,5 deg")
    assert panel.state["mark_first"] == panel.state["mark_second"] == 2.5
    assert page.fault == ""
    for junk, words in (("200", "from -30 to 30 deg"), ("two", "A number is wanted"), ("2 mm", "asked in deg")):
        page.say("typed", "mark_both", junk)
        assert words in page.fault
        assert page.told[-1]["refused"] == "mark_both"
        assert panel.state["mark_first"] == 2.5
    page.say("set", "mark_both", 3.0)
    assert page.fault == ""


def test_shown_as_a_widget_with_picture_and_sentence_beside_it(panel):
    bundle = panel._repr_mimebundle_()
    assert bundle["text/plain"] == repr(panel) == panel.sentence
    assert bundle["application/vnd.jupyter.widget-view+json"]["model_id"] == panel.widget.model_id
    assert bundle["image/svg+xml"] == panel.picture().svg


def test_threads_leave_a_state_that_the_board_agrees_with():
    panel = passes.marks_panel()
    wanted = np.arange(-8.0, 8.0, 2.0)

    def move(k):
        for value in np.roll(wanted, k):
            panel.set(**{"mark_first" if k % 2 else "mark_second": float(value)})

    threads = [threading.Thread(target=move, args=(k,)) for k in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=20)
    assert not any(thread.is_alive() for thread in threads)
    v = panel.state
    assert f"{v['mark_first']:.1f} and {v['mark_second']:.1f} deg" in shown(panel)
    assert panel._board._now["values"]["mark_first"] == v["mark_first"]


def test_a_change_is_answered_with_its_turn_and_the_slope_of_its_control(panel):
    page = Page(panel)
    name = next(name for name in panel.seen if layout(panel)[name]["kind"] == "slider")
    page.told.clear()
    page.buffers.clear()
    page.say("set", name, panel.controls[name])
    answer, slope = page.told
    assert answer["kind"] == "shown"
    assert answer["turns"] == {"page": 1}
    assert slope["kind"] == "slope"
    assert slope["name"] == name
    assert "eye" in slope["stages"]


def test_two_pages_show_one_panel():
    panel = passes.marks_panel()
    one, other = Page(panel, "one"), Page(panel, "other")  # the later one listens for both
    one.say("set", "mark_both", 3.0)
    assert other.values["mark_both"] == 3.0
    assert other.told[-2]["turns"] == {"one": 1}
    other.say("set", "mark_both", 4.0)
    assert other.told[-2]["turns"] == {"one": 1, "other": 1}


@pytest.mark.slow
def test_a_new_value_settles_and_draws_twice_for_the_picture_and_for_its_slope(panel, monkeypatch):
    """How long that takes is measured by `tests/benchmarks/slider_speed.py`."""
    calls = []
    for name in ("settle", "both_views"):
        work = getattr(passes, name)
        monkeypatch.setattr(passes, name, lambda *a, n=name, w=work, **k: calls.append(n) or w(*a, **k))
    page = Page(panel)
    slider = next(part for part in layout(panel).values() if part["kind"] == "slider" and part["name"] in panel.seen)
    low, high = slider["low"], slider["high"]
    for value in np.linspace(low + 0.4 * (high - low), high * 0.9 + 0.1 * low, 40):
        calls.clear()
        page.say("set", slider["name"], float(value))
        assert sorted(calls) == ["both_views", "both_views", "settle", "settle"], value


# ---------------------------------------------------------------- your own hand


def test_hand_panel_operates_and_agrees_with_operate():
    panel = hand_panel()
    assert "Not operated yet" in repr(panel)
    panel.set(meridian=2.0, tunnel_length=0.1)
    page = Page(panel)
    page.say("press", "operate")
    plan = es.Fixation(meridian=0.0, iris_angle=10.0)
    direct = es.operate(EYE, LENS, plan, plan.opposite(), panel.hands, n=2000, rng=1, progress=False)
    assert panel.outcomes.n == 2000
    assert f"{100 * direct.share(0.4, 5.0).value:.0f} %" in repr(panel)
    assert 'value="2000"' in panel._board._now["regions"]["progress"]
    assert "<svg" in panel._board._now["regions"]["cloud"]
    assert panel._board._now["said"] == repr(panel) == panel.sentence
    assert panel.picture().sentence == repr(panel)
    page.say("set", "iris_angle", 1.0)
    assert panel.outcomes is None
    assert "<svg" not in shown(panel)
    assert "Not operated yet" in repr(panel)
    panel.reset()
    assert panel.state["meridian"] == 3.0


def test_hands_are_chosen_by_their_buttons():
    panel = hand_panel()
    page = Page(panel)
    for i, name in enumerate(panel.presets):
        assert layout(panel)[f"preset_{i}"]["words"] == name
        page.say("press", f"preset_{i}")
    assert panel.controls == panel.state
    assert panel.state["tunnel_length"] == 0.15
    assert panel.state["meridian"] == 3.0
    assert page.values == panel.state


def test_the_cloud_grows_while_the_page_stays_alive():
    async def main():
        panel = hand_panel()
        page = Page(panel)
        page.say("press", "operate")
        assert off(panel) == ["operate"]
        assert panel.outcomes is None
        end = time.monotonic() + 20.0
        while panel.outcomes is None and time.monotonic() < end:
            await asyncio.sleep(0.005)
        grown = [told["regions"]["progress"] for told in page.told if "progress" in told.get("regions", {})]
        assert [int(re.search(r'value="(\d+)"', one)[1]) for one in grown if one] == [0, 125, 500, 1000, 2000]
        assert off(panel) == []
        assert panel._board._now["said"] == repr(panel)

    asyncio.run(main())


def test_a_spread_that_changes_amid_a_run_ends_it():
    async def main():
        panel = hand_panel()
        page = Page(panel)
        page.say("press", "operate")
        while "<svg" not in shown(panel):
            await asyncio.sleep(0.001)
        page.say("set", "meridian", 1.0)
        await asyncio.sleep(0.3)
        assert panel.outcomes is None
        assert off(panel) == []
        assert "<svg" not in shown(panel)
        assert "Guess, then operate" in shown(panel)

    asyncio.run(main())


def test_what_cannot_be_operated_is_told(monkeypatch):
    def refuse(*_, **__):
        raise es.LearnerError("No lens comes to rest.")

    monkeypatch.setattr(hand, "operate", refuse)
    panel = hand_panel()
    Page(panel).say("press", "operate")
    assert "No lens comes to rest" in shown(panel)
    assert off(panel) == []
    assert panel.operate() is None
    assert "No lens comes to rest" in shown(panel)
    with pytest.raises(es.LearnerError, match="no picture"):
        panel.picture()


def test_hand_panel_refuses_junk():
    panel = hand_panel()
    with pytest.raises(es.LearnerError):
        hand_panel(first="here")
    for junk in ({"x": 1.0}, {"meridian": "a"}, {"meridian": -1.0}, {"meridian": [1.0, 2.0]}):
        with pytest.raises(es.LearnerError):
            panel.set(**junk)
    with pytest.raises(es.LearnerError):
        hand_panel(rng="one")
    page = Page(panel)
    page.say("typed", "meridian", "a lot")
    assert "A number is wanted" in page.fault
    page.say("typed", "meridian", "40")
    assert "12" in page.fault
    page.say("typed", "meridian", "2,5")
    assert panel.state["meridian"] == 2.5
    assert off(panel) == []


def test_a_steadier_hand_does_better():
    panel = hand_panel()
    first = panel.operate().share(0.4, 5.0).value
    panel.set(**{name: value / 2 for name, value in panel.state.items()})
    assert panel.operate().share(0.4, 5.0).value > first + 0.1


# ---------------------------------------------------------------- asking


def feedback(asked):
    return asked._board._now["regions"]["feedback"]


def test_nothing_is_shown_before_committing_and_nothing_changes_after():
    asked = ask("marks.which-way")
    page = Page(asked)
    assert repr(asked).endswith("Not answered yet.")
    assert feedback(asked) == ""
    assert off(asked) == ["again"]
    page.say("press", "commit")
    assert not asked.committed
    assert "a guess will do" in feedback(asked)
    assert "a guess will do" in asked._board._now["said"]
    page.say("set", "answer", "c")
    page.say("set", "sure", "certain")
    with pytest.raises(es.LearnerError, match="commit"):
        asked.picture()
    page.say("press", "commit")
    assert asked.committed
    assert asked.feedback.misconception == "to-the-mark"
    assert "<svg" in feedback(asked)
    assert "It matters" in feedback(asked)
    assert asked._board._now["said"].startswith("Not as predicted. ")
    assert "Your answer: (c)" in repr(asked)
    assert "(certain)" in repr(asked)
    assert off(asked) == ["answer", "commit", "sure"]
    with pytest.raises(es.LearnerError, match="committed"):
        asked.answer = "b"
    page.say("set", "answer", "b")  # sent before the page heard
    assert "committed" in page.fault
    assert page.values["answer"] == asked.answer == "c"
    page.say("press", "again")
    assert asked.answer is None
    assert page.values["answer"] == ""
    assert feedback(asked) == ""
    assert off(asked) == ["again"]


def test_a_number_takes_a_comma_and_what_cannot_be_read_stays():
    asked = ask("tunnels.long-and-short")
    page = Page(asked)
    page.say("set", "answer", "many")
    page.say("press", "commit")
    assert not asked.committed
    assert "cannot be read" in feedback(asked)
    assert asked.answer == page.values["answer"] == "many"
    page.say("set", "answer", "3,5")
    page.say("press", "commit")
    assert asked.feedback.right
    asked.again()
    asked.answer = 2
    asked.commit()
    assert asked.feedback.misconception == "as-the-tunnel"
    assert "What the simulation says" in feedback(asked)


def test_questions_stand_on_the_board_with_all_choices_and_units():
    choices = layout(ask("marks.which-way"))["answer"]
    assert choices["kind"] == "radios"
    assert [f"({key})" for key, _ in choices["options"]] == [words.split()[0] for _, words in choices["options"]]
    number = layout(ask("start.how-far"))["answer"]
    assert number["kind"] == "field"
    assert number["words"] == "Your answer [mm]"
    asked = ask("marks.which-way")
    regions = asked._board._now["regions"]
    assert es.CAUTION in regions["caution"]
    assert asked.question.text in html.unescape(regions["text"])
    with pytest.raises(es.LearnerError):
        asked.confidence = "perhaps"
    assert asked.confidence == "guessing"


def test_a_question_shows_its_sentence_where_no_script_runs():
    asked = ask("marks.which-way")
    bundle = asked._repr_mimebundle_()
    assert set(bundle) == {"application/vnd.jupyter.widget-view+json", "text/plain"}
    assert bundle["text/plain"] == repr(asked) == asked.sentence


@pytest.mark.parametrize("id", lesson.ids(kind="prediction"))
def test_every_prediction_can_be_asked_and_revealed(id):
    asked, again = ask(id), ask(id, seat="superior")
    for one in (asked, again):
        one.answer = lesson.reference_answer(id).answer
        one.commit()
        assert one.feedback.right
        assert "<svg" in feedback(one)
    assert repr(asked) == repr(again)


def test_text_is_never_taken_for_markup():
    asked = ask("tunnels.long-and-short")
    Page(asked).say("set", "answer", "<script>x</script>")
    asked.commit()
    assert "script" in feedback(asked)
    assert "<script>" not in feedback(asked)


def test_plans_have_no_buttons():
    with pytest.raises(es.LearnerError, match="plan"):
        ask("needles.two-walls")
    with pytest.raises(es.LearnerError, match="Did you mean"):
        ask("marks.which-wa")


def test_a_panel_begins_with_two_sliders_and_opens_the_rest_when_one_of_them_is_set(panel):
    page = Page(panel)

    def seen():
        return sum(layout(panel)[name]["kind"] == "slider" for name in panel.seen)

    assert seen() == 2
    page.say("set", "more", True)
    everything = seen()
    assert everything > 2
    page.say("set", "more", False)
    assert seen() == 2
    panel.preset(panel.presets[-1])  # sets a slider that is not shown
    assert page.values["more"]
    assert seen() == everything


def test_every_preset_stands_on_the_grids_of_its_sliders(panel):
    for name in panel.presets:
        panel.preset(name)
        for control, value in panel.controls.items():
            slider = layout(panel)[control]
            if slider["kind"] == "slider":
                steps = (value - slider["low"]) / slider["step"]
                assert abs(steps - round(steps)) < 1e-6, (name, control)
