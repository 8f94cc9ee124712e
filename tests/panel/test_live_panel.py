"""The live session without a browser: what hands do on its board, and what it then shows, says and hides."""

import asyncio
import html
import io
import json
import re

import numpy as np
import pytest
from page import Page, layout, off, shown
from PIL import Image

import eyesim as es
from eyesim.draw.wall_view import wall_view
from eyesim.live.case import random_case
from eyesim.live.outcome import outcome
from eyesim.live.parameters import SIDES
from eyesim.live.session import MISTAKES, Session
from eyesim.live.votes import OPTIONS, explain_wrong_vote
from eyesim.live.why import why
from eyesim.panel import live_panel
from eyesim.panel.live import gif
from eyesim.panel.live import hands as live_hands
from eyesim.panel.live import rest as live_rest
from eyesim.panel.live.picture import live_picture

PLAN = Session()


@pytest.fixture
def quick(monkeypatch):
    """Live session whose slow parts are not worked out."""
    monkeypatch.setattr(live_rest, "_operated", None)
    monkeypatch.setattr(
        "eyesim.panel.live.panel.at_rest", lambda asked, _: dict.fromkeys(live_rest.REGIONS, repr(asked))
    )
    return live_panel()


def test_start_shows_the_plan_with_its_caution(quick):
    assert quick.session == PLAN
    assert outcome(quick.session).within
    assert es.CAUTION in quick._board._now["regions"]["caution"]
    assert "not for planning care" in quick._board._pictures["eye"].svg


def test_what_it_says_agrees_with_a_direct_settle(quick):
    page = Page(quick)
    page.say("set", "mark_second", 10.0)
    plan = es.Fixation(iris_angle=10.0, limbus_angle=20.0, limbus_distance=2.0, tunnel_length=2.0, outside=0.8)
    pose = es.settle(es.Eye(), es.Lens(), plan, plan.but(meridian=190.0))
    assert f"{pose.decentration:.2f} mm off centre" in repr(quick)
    assert f"<dd>{pose.tilt:.1f}°" in shown(quick)
    assert f"<dd>{pose.depth:.2f} mm</dd>" in shown(quick)
    assert f"{pose.decentration:.2f} mm off centre" in page.last()[0]["said"]


def test_every_mistake_has_a_key_of_its_own_and_tells_its_own_story(quick):
    page, keys, told = Page(quick), set(), set()
    for i, (name, mistake) in enumerate(MISTAKES.items()):
        button = layout(quick)[f"preset_{i}"]
        assert button["words"] == name
        assert button["key"] == mistake.key
        page.say("press", f"preset_{i}")
        assert quick.session == mistake.session(PLAN)
        assert quick._state.before == PLAN
        keys.add(button["key"])
        told.add(repr(quick))
        assert "nan" not in shown(quick)
    every = [part["key"] for part in layout(quick).values() if part.get("key")]
    assert len(set(every)) == len(every)
    assert len(told) == len(keys) == len(MISTAKES)
    assert any("stays in the curved sclera" in words for words in told)


@pytest.mark.parametrize("name", MISTAKES)
def test_the_bar_and_its_words_are_those_of_the_outcome(quick, name):
    quick.preset(name)
    ended = outcome(quick.session)
    regions = quick._board._now["regions"]
    assert f'<div class="told {"go" if ended.within else "stop"}">' in regions["readout"]
    assert str(ended) in repr(quick)
    assert html.escape(str(ended)) in regions["readout"]


def test_a_hidden_outcome_is_nowhere_on_the_board(quick):
    page = Page(quick)
    page.say("set", "hide", True)
    page.say("press", "preset_1")
    pose = quick.session.settled
    picture = quick._board._pictures["eye"]
    words = shown(quick) + json.dumps(page.last()[0])
    for telling in (f"{pose.decentration:.2f} mm", f"{pose.depth:.2f} mm", "It matters"):
        assert telling not in words
    assert "The outcome is hidden" in picture.svg
    assert all(quick._board._now["regions"][region] == "" for region in live_rest.REGIONS)
    for option in OPTIONS:
        assert option.words in words
    assert page.last()[0]["said"] == "The outcome is hidden."


def test_votes_are_counted_and_told_after_the_reveal(quick):
    page = Page(quick)
    page.say("set", "hide", True)
    page.say("press", "preset_1")
    page.say("typed", "vote_tilted", "7")
    page.say("set", "vote_off", 3)
    assert "10 have voted" in shown(quick)
    page.say("typed", "vote_off", "2.5")
    assert "whole numbers" in page.fault
    page.say("set", "hide", False)
    told = shown(quick).replace("&#x27;", "'")
    assert "<b>7</b> III tilted" in told
    assert "<b>3</b> \N{CHECK MARK} right: II off centre" in told
    assert "3 of 10 saw it." in told
    assert explain_wrong_vote(quick.session, "tilted") in told
    page.say("typed", "vote_off", "-1")
    assert "whole numbers from 0 on" in page.fault
    assert quick.tally.total == 10
    page.say("press", "clear")
    assert quick.tally.total == 0


def test_a_is_kept_compared_and_exchanged(quick):
    page = Page(quick)
    page.say("press", "preset_1")
    page.say("set", "keep", True)
    kept = quick.session
    page.say("press", "preset_2")
    now = quick.session
    assert f"A: {kept.settled.decentration:.2f} mm" in shown(quick)
    assert f"{kept.settled.decentration:.2f} mm" in quick._board._pictures["eye"].svg
    page.say("press", "exchange")
    assert (quick.session, quick.kept) == (kept, now)
    page.say("set", "keep", False)
    assert "A: " not in shown(quick)
    assert "exchange" in off(quick)


def test_links_mirror_change_of_sides_and_back(quick):
    page = Page(quick)
    page.say("set", "link", "against")
    page.say("set", "dip_first", 14.0)
    assert (quick.session["dip_first"], quick.session["dip_second"]) == (14.0, 6.0)
    page.say("press", "swap")
    assert (quick.session["dip_first"], quick.session["dip_second"]) == (6.0, 14.0)
    page.say("press", "mirror")
    assert (quick.session["dip_first"], quick.session["dip_second"]) == (6.0, 6.0)
    for first in (6.0, 14.0, 10.0):
        page.say("press", "undo")
        assert quick.session["dip_first"] == first
    assert quick.session == PLAN
    assert "undo" in off(quick)
    page.say("press", "undo")
    assert page.fault == ""


def test_one_movement_of_a_slider_is_one_step_back_and_one_why(quick):
    page = Page(quick)
    for value in (11.0, 12.0, 13.0):
        page.say("set", "dip_second", value)
    assert quick._state.before == PLAN
    page.say("set", "mark_first", 2.0)
    assert quick._state.before["dip_second"] == 13.0
    page.say("press", "undo")
    page.say("press", "undo")
    assert quick.session == PLAN


def test_numbers_are_typed_with_units_and_commas_and_faults_are_told(quick):
    page = Page(quick)
    page.say("typed", "tunnel_second", "1,25 mm")
    assert quick.session["tunnel_second"] == 1.25
    for name, value, words in (
        ("tunnel_second", "9", "0.5 to 3"),
        ("tunnel_second", "long", "number"),
        ("dip_first", "4 mm", "deg"),
        ("free_first", "12", "can be free"),
        ("text", "dip 2 = 1000", "0 to 40"),
        ("text", "__import__('os')", "cannot be read"),
        ("case", "0", "whole number from 1"),
        ("hands", "golden", "hands"),
        ("nonsense", 1.0, "nonsense"),
        ("link", "sideways", "link"),
    ):
        page.say("typed" if name in layout(quick) and layout(quick)[name]["kind"] == "slider" else "set", name, value)
        assert words in page.fault, (name, value, page.fault)
        assert quick.session["tunnel_second"] == 1.25
    page.say("typed", "tunnel_second", "1.5")
    assert page.fault == ""


def test_free_haptic_goes_as_far_as_it_can(quick):
    page = Page(quick)
    page.say("set", "free_first", 12.0)
    assert quick.session["outside_first"] == pytest.approx(0.2)
    assert page.values["free_first"] == pytest.approx(quick.session.free_length["first"])
    page.say("typed", "free_first", "5")
    assert quick.session.free_length["first"] == pytest.approx(5.0)
    page.say("press", f"preset_{list(MISTAKES).index('Single plane, never through')}")
    assert "free_second" in off(quick)
    assert "free_first" not in off(quick)


def test_a_hidden_outcome_is_told_by_nothing_else(quick):
    page = Page(quick)
    page.say("set", "solve", True)
    page.say("set", "hide", True)
    page.say("press", f"preset_{list(MISTAKES).index('Single plane, never through')}")
    assert "are near enough" not in shown(quick)
    assert {"free_first", "free_second"} <= set(off(quick))
    assert page.values["free_first"] is page.values["free_second"] is None
    page.say("slope", "free_first")  # and nothing can be seen from how it would move
    page.say("press", "loop")
    assert "hidden" in page.fault
    assert not [told for told in page.told if told["kind"] == "frames"]


def test_what_was_exchanged_is_exchanged_back(quick):
    page = Page(quick)
    page.say("press", "preset_1")
    page.say("set", "keep", True)
    page.say("press", "preset_2")
    before = quick.session, quick.kept
    page.say("press", "exchange")
    page.say("press", "undo")
    assert (quick.session, quick.kept) == before


def test_what_was_kept_stays_when_a_change_is_taken_back(quick):
    page = Page(quick)
    page.say("set", "limbus_second", 21.0)
    page.say("set", "limbus_second", 20.0)
    page.say("set", "keep", True)
    page.say("press", "undo")
    assert quick.kept == quick.session == PLAN
    page.say("press", "preset_1")
    page.say("press", "exchange")
    page.say("set", "keep", False)
    page.say("press", "undo")
    assert quick.kept is None
    assert quick.session == Session(mark_second=10)


def test_what_cannot_be_drawn_is_refused_and_nothing_is_half_done(quick):
    page, before = Page(quick), quick.session
    page.say("set", "text", "mark 2 = -30; distance 2 = 4; ring x = -1; ring y = 1")
    assert "behind the limbus" in page.fault
    assert quick.session == before
    quick.restore("mark 1 = -30; distance 1 = 0.5; ring y = -1; kind = straight; dip = 2")
    assert "no outcome" in repr(quick)
    with pytest.raises(es.LearnerError, match="seat"):
        quick.choose(hide=True, seat="bogus")
    assert "hidden" in quick._board._now["said"]
    for wrong in ({"hide": "no"}, {"case": "three"}, {"case": None}, {"case": float("inf")}):
        with pytest.raises(es.LearnerError):
            quick.choose(**wrong)


def test_text_restores_the_state(quick):
    page = Page(quick)
    page.say("press", "preset_5")
    page.say("set", "eye", "left")
    text, session = page.values["text"], quick.session
    assert text == quick.text == session.text()
    page.say("press", "preset_0")
    page.say("set", "text", text.upper())
    assert quick.session == session
    assert live_panel(text).session == session


def test_a_page_that_is_loaded_again_goes_on_where_it_was(quick):
    page = Page(quick)
    page.say("press", "preset_1")
    page.say("set", "keep", True)
    page.say("press", "preset_2")
    page.say("set", "hide", True)
    page.say("set", "vote_tilted", 4)
    page.say("set", "seat", "temporal")
    memory = quick._board._now["memory"]
    again = live_panel()
    other = Page(again, memory=memory)
    assert (again.session, again.kept, again.tally) == (quick.session, quick.kept, quick.tally)
    assert other.values["hide"] is True
    assert other.values["seat"] == "temporal"
    assert "hidden" in shown(again)
    Page(again, memory=page.told[0]["memory"])  # a second page of the same panel does not bring back its own
    assert again.session == quick.session


@pytest.mark.parametrize(
    "memory",
    ["", "[" * 19_000, "{}", "null", "x" * 30_000, '{"table": "__import__", "a": null, "votes": [1], "options": {}}',
     '{"table": "dip = 12", "a": null, "votes": [0,0,0,0,0,-1], "options": {}, "solving": false}', 7],
)  # fmt: skip
def test_what_a_page_remembers_is_read_with_care(quick, memory):
    page = Page(quick, memory=memory)
    assert quick.session == PLAN
    assert page.fault == ""


def test_a_case_that_was_being_solved_is_still_there(quick):
    page = Page(quick)
    page.say("typed", "case", "17")
    page.say("set", "dip_second", 12.0)
    again = live_panel()
    Page(again, memory=quick._board._now["memory"])
    assert again.case.hidden == quick.case.hidden
    assert again.session == quick.session


def test_hands_can_be_as_the_room_says(quick):
    page = Page(quick)
    assert {*live_hands.OWN} <= set(off(quick))
    page.say("set", "hands", "own")
    assert not {*live_hands.OWN} & set(off(quick))
    page.say("typed", "own_dip", "1,5 deg")
    page.say("typed", "own_mark", "40")
    assert "0 to 15" in page.fault
    hands, words = live_hands.hands_of("own", quick._state.options)
    assert hands.iris_angle.spreads == (1.5, 1.5)
    assert hands.limbus_angle == es.Hands().limbus_angle
    assert "iris angles by 1.5 deg" in words


def test_which_eye_it_is_changes_no_story(quick):
    page = Page(quick)
    page.say("press", "preset_2")
    page.say("set", "eye", "left")
    assert why(quick._state.before, quick.session).sentences == why(PLAN, Session(dip_second=20)).sentences


def test_stills_carry_what_was_done_and_its_numbers(quick):
    page = Page(quick)
    page.say("press", "preset_2")
    page.say("press", "svg")
    told = page.last("still")[0]
    assert told["type"] == "svg"
    assert "Dip 2 = 20 deg" in told["svg"]
    assert f"{quick.session.settled.depth:.2f} mm" in told["svg"]
    page.say("set", "hide", True)
    page.say("press", "png")
    assert "outcome hidden" in page.last("still")[0]["svg"]


@pytest.mark.parametrize(("meridian", "seat", "ends"), [
    (0.0, "superior", "Cut open from 3 to 9"), (0.0, "temporal", "Cut open from 9 to 3"),
    (90.0, "superior", "Cut open from 12 to 6"), (90.0, "front", "Cut open from 6 to 12"),
])  # fmt: skip
def test_both_cuts_stay_and_each_shows_the_lean_in_it(meridian, seat, ends):
    session = Session(dip_second=17, distance_first=2.6, mark_second=4)
    x, y, z = session.settled.normal
    seen = np.degrees(np.arctan2(x if meridian == 0.0 else y, z))  # of the normal, by hand
    picture = live_picture(session, seat)
    assert ends in picture.svg
    assert f">{abs(seen):.1f}°<" in picture.svg
    assert f"{abs(seen):.1f} deg in the cut" in picture.sentence


@pytest.mark.parametrize("dip", [4.0, 5.2, 5.4, 8.0, 14.0])
def test_a_needle_is_drawn_through_the_wall_just_where_it_gets_through(dip):
    session = Session(kind_first="straight", kind_second="straight", dip_second=dip)
    picture = wall_view(session.settled)
    least = float(es.least_dip_that_enters(session.eye, session.second))
    assert ("never through" in picture.sentence) == (dip < least)
    drawn = re.findall(r'track-2" d="([^"]*)"', picture.svg)[0]
    start, end = np.array(re.findall(r"-?[0-9.]+", drawn), float).reshape(2, 2)
    assert np.degrees(np.arctan2(start[1] - end[1], end[0] - start[0])) == pytest.approx(dip, abs=0.05)
    wall = [re.findall(r"-?[0-9.]+", d) for d in re.findall(r'data-part="wall" d="([^"]*)"', picture.svg)]
    outer, inner = np.split(np.array(wall[1], float).reshape(-1, 2), 2)
    assert np.hypot(*(outer - start).T).min() < 0.06
    assert (np.hypot(*(inner - end).T).min() < 0.06) == (dip > least)
    if dip > least:
        assert np.hypot(*(end - start)) == pytest.approx(float(session.settled.passages[1].tunnel_length), abs=2e-3)


def test_slopes_lead_to_what_is_solved(quick):
    quick.set(mark_second=6, dip_second=14, ring_x=0.2)
    page = Page(quick)
    for name, step in (("mark_second", 0.5), ("dip_first", 0.5), ("free_second", 0.05), ("ring_x", 0.05)):
        page.say("slope", name)
        message, buffers = page.last("slope")
        assert message["name"] == name
        told = message["stages"]["eye"]
        places, slopes = (np.frombuffer(buffers[told["buffer"] + k], t) for k, t in ((0, np.uint32), (1, np.float32)))
        before = quick._pictured.drawing
        moved = before.numbers.copy()
        moved[places] += step * slopes
        page.say("set", name, page.values[name] + step)
        after = quick._pictured.drawing
        assert after.form == before.form
        change = np.abs(after.numbers - before.numbers).max()
        assert change > 0.01
        assert np.abs(after.numbers - moved).max() < 0.15 * change


def test_votes_are_of_one_question_and_what_is_asked_stands_there(quick):
    page = Page(quick)
    page.say("set", "dip_second", 20.0)
    assert "dip 2 = 20 deg" in shown(quick)
    page.say("set", "hide", True)
    assert "dip 2 = 20 deg" in shown(quick)
    page.say("set", "vote_tilted", 1)
    assert "1 has voted" in shown(quick)
    page.say("set", "hide", False)
    assert quick.tally.total == 1
    page.say("set", "hide", True)
    assert quick.tally.total == 0


def test_a_case_is_set_solved_and_given_up(quick):
    page = Page(quick)
    page.say("typed", "case", "17")
    same = random_case(np.random.default_rng(17))
    assert quick.case.hidden == same.hidden
    assert quick.session == same.start
    assert "Case 17" in shown(quick)
    ghost = same.hidden.settled
    assert f"{ghost.decentration:.2f} mm" in quick._board._pictures["eye"].svg
    quick.set(**{key: same.hidden[key] for key in same.hidden.values})
    assert "solved" in shown(quick)
    page.say("set", "solve", False)
    assert quick.case is None
    page.say("set", "solve", True)
    there = quick.case.hidden
    page.say("set", "solve", False)
    assert quick.session == there
    assert "What was done" in shown(quick)


@pytest.mark.slow
def test_why_chart_and_cloud_are_of_what_is_on_the_table():
    panel = live_panel()
    panel.preset("Both sides wrong alike")
    regions = panel._board._now["regions"]
    found = why(PLAN, panel.session)
    assert all(words in regions["why"].replace("&#x27;", "'") for words in found.sentences)
    assert "glasses" in regions["chart"]
    s = panel.session
    outcomes = es.operate(s.eye, s.lens, s.first, s.second, es.Hands(), n=2000, rng=1, progress=False)
    assert f"{100 * outcomes.share().value:.0f} %" in regions["cloud"]
    panel.choose(hands="")
    assert "<svg" not in panel._board._now["regions"]["cloud"]
    panel.preset("Single plane, never through")
    assert "nothing is seen" in panel._board._now["regions"]["chart"]


def test_at_rest_only_the_newest_is_worked_out_and_till_then_it_is_marked():
    async def hour():
        panel = live_panel()
        page = Page(panel)
        for value in np.arange(10.0, 14.0, 0.5):
            page.say("set", "dip_second", float(value))
        assert panel._board._now["busy"] == sorted(live_rest.REGIONS)
        for _ in range(400):
            await asyncio.sleep(0.02)
            if not panel._board._now["busy"]:
                return panel
        raise AssertionError("what follows at rest never came")

    panel = asyncio.run(hour())
    found = why(PLAN, Session(dip_second=13.5))
    assert found.sentences[0] in panel._board._now["regions"]["why"]


def test_a_loop_goes_there_and_back(quick):
    page = Page(quick)
    page.say("press", "preset_1")
    page.say("press", "loop")
    svgs = page.last("frames")[0]["frames"]
    assert len(svgs) == gif.STEPS + 1
    assert gif.between(PLAN, quick.session, 0.5)["mark_second"] == 5.0
    painted = [_png(number) for number in range(len(svgs))]
    page.say("film", buffers=painted)
    message, buffers = page.last("file")
    film = Image.open(io.BytesIO(buffers[0]))
    assert (message["type"], film.format, film.n_frames) == ("image/gif", "GIF", 2 * gif.STEPS)


@pytest.mark.parametrize("painted", [[], [b"GIF89a"], [b"\x89PNG\r\n\x1a\n" + bytes(40)], ["text"]])
def test_a_loop_is_made_of_pictures_alone(painted):
    with pytest.raises(es.LearnerError, match="Try again"):
        gif.gif(painted)


def test_every_slider_says_what_it_is_with_its_side_and_unit(quick):
    sliders = [part for part in layout(quick).values() if part["kind"] == "slider" and not part["bare"]]
    names = [part["words"] for part in sliders]
    assert len(set(names)) == len(names)
    assert all(part["unit"] in ("mm", "deg") for part in sliders)
    assert all(any(side in part["words"] for side in SIDES) for part in sliders if part["name"].endswith(SIDES))


def test_it_shows_a_picture_where_no_script_runs(quick):
    bundle = quick._repr_mimebundle_()
    assert bundle["image/svg+xml"].startswith("<svg")
    assert bundle["text/plain"] == repr(quick) == quick.sentence


def _png(number):
    file = io.BytesIO()
    image = Image.new("RGB", (90, 55), "white")
    image.paste("black", (number, number, number + 9, number + 9))
    image.save(file, "PNG")
    return file.getvalue()
