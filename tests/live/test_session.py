"""The live session: what stands on the table, why a lens did what it did, votes, and cases to solve."""

import dataclasses
import functools
import itertools
import json
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

import eyesim as es
from eyesim.live import session as table
from eyesim.live.case import ERRORS, NEAR, Case, random_case
from eyesim.live.change import measure_change
from eyesim.live.laws import FACTORS
from eyesim.live.outcome import OUT_OF_FOCUS, explain_failure, least_dip, missing_length, outcome
from eyesim.live.parameters import KEYS, SIDES, Quantity
from eyesim.live.session import MISTAKES, Session
from eyesim.live.votes import OPTIONS, Tally, explain_wrong_vote
from eyesim.live.why import why
from eyesim.live.wording import describe_changes
from eyesim.study.verdict import DECENTRATION_LIMIT, TILT_LIMIT

CASES = json.loads((Path(__file__).parents[1] / "reference" / "mechanics.json").read_text())["cases"]
PLAN = Session()
STUCK = Session(kind_first="straight", kind_second="straight", dip_second=5)
SHORT = Session(outside_first=3, outside_second=3)
COUNTS = "No One Two Three Four Five Six Seven Eight Nine Ten Eleven Twelve Thirteen".split()
NUMBERS = [key for key, what in KEYS.items() if isinstance(what, Quantity)]


def _on_a_step(key, rng, share=1.0):
    """Draw a value within the range of a slider, on its steps, at most a share of the range from where it starts."""
    what = KEYS[key]
    if not isinstance(what, Quantity):
        return what.options[rng.integers(len(what.options))]
    lowest, highest = (round((end - what.start) * share / what.step) for end in (what.low, what.high))
    value = what.start + rng.integers(lowest, highest + 1) * what.step
    return float(np.clip(round(value, 9), what.low, what.high))


def _drawn(rng, n, share=0.3, start=PLAN):
    """Change n things of a session at random; leave it where that would leave the wall."""
    keys = rng.choice(list(KEYS), size=n, replace=False)
    try:
        return start.but(**{str(key): _on_a_step(str(key), rng, share) for key in keys})
    except es.LearnerError:
        return start


@st.composite
def sessions(draw):
    changes = {}
    for key in draw(st.lists(st.sampled_from(sorted(KEYS)), max_size=8, unique=True)):
        what = KEYS[key]
        if isinstance(what, Quantity):
            changes[key] = draw(st.floats(what.low, what.high) | st.just(what.start + what.step))
        else:
            changes[key] = draw(st.sampled_from(what.options))
    try:
        return Session(**changes)
    except es.LearnerError:
        return Session(mark_second=10, ring_x=-0.5, eye="left")


# ---------------------------------------------------------------- on the table


REFERENCE = {
    "symmetric": {},
    "one mark 5 deg off": {"mark_first": 5},
    "one mark 10 deg off": {"mark_first": 10},
    "one mark 10 deg the other way": {"mark_first": -10},
    "one entry 0.5 mm further back": {"distance_first": 2.5},
    "one entry 0.5 mm nearer": {"distance_first": 1.5},
    "one limbus angle 30": {"limbus_first": 30},
    "one iris angle 15": {"dip_first": 15},
    "one iris angle 0": {"dip_first": 0},
    "one tunnel 1.0 mm": {"tunnel_first": 1},
    "both tunnels 1.0 mm": {"tunnel_first": 1, "tunnel_second": 1},
    "straight pass, walls 0.5 and 0.6": {
        "kind_first": "straight", "kind_second": "straight", "dip_first": 10, "dip_second": 10, "wall_second": 0.6,
    },
    "exit angle 30 both sides": {"turned_first": True, "turned_second": True},
}  # fmt: skip


@pytest.mark.parametrize("name", REFERENCE)
def test_a_session_settles_where_two_independent_formulations_put_the_lens(name):
    # reference/mechanics.json: shooting and collocation, agreed to 1e-6 mm; its needles dip by 5 deg unless said
    expected = next(case["expected"] for case in CASES if case["name"] == name)
    pose = Session(**{"dip_first": 5, "dip_second": 5, **REFERENCE[name]}).settled
    assert np.array([pose.x, pose.y, pose.z]) == pytest.approx(expected["centre"], abs=2e-5)
    assert pose.tilt == pytest.approx(expected["tilt"], abs=1e-3)
    assert pose.free_length == pytest.approx(expected["free_lengths"], abs=1e-9)


@pytest.mark.slow
@given(sessions())
@settings(max_examples=150)
def test_text_restores_a_session(session):
    text = session.text()
    assert Session.read(text) == session
    assert Session.read(text.upper().replace("; ", "\n ; ").replace("EYESIM LIVE", "  eyesim   Live")) == session
    assert Session.read(text.replace(".", ",")) == session
    assert hash(Session.read(text)) == hash(session)


@pytest.mark.parametrize(
    ("text", "session"),
    [
        ("as planned", PLAN),
        ("eyesim live:", PLAN),
        ("dip = 20", Session(dip_first=20, dip_second=20)),
        ("mark second: 10 deg, white-to-white=12.5mm", Session(mark_second=10, white_to_white=12.5)),
        ("white_to_white = 12,5", Session(white_to_white=12.5)),
        ("backwards 2 = yes; eye = left", Session(backwards_second=True, eye="left")),
        ("MARK 1 = \N{MINUS SIGN}5\N{DEGREE SIGN}", Session(mark_first=-5)),
        ("iris angle 1 = 5; limbus angle 2 = 12", Session(dip_first=5, limbus_second=12)),
        (
            "Scleral thickness 2: 0.6 mm, externalised = 1; iris-angle second=12",
            Session(wall_second=0.6, outside_first=1, outside_second=1, dip_second=12),
        ),
        ("externalised length 1 = 1.2 mm", Session(outside_first=1.2)),
        ("kind=straight;wall2=.6", Session(kind_first="straight", kind_second="straight", wall_second=0.6)),
    ],
)
def test_text_may_be_typed_by_hand(text, session):
    assert Session.read(text) == session


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("__import__('os').system('touch x')", "cannot be read"),
        ("dip 2 = __import__('os')", "dip_second"),
        ("dip 2 = (1+1)", "cannot be read"),
        ("dip 2 = 10*2", "cannot be read"),
        ("dip 2 = 0x10", "cannot be read"),
        ("dip 2 = nan", "dip_second"),
        ("dip 2 = inf", "dip_second"),
        ("dip 2 = 1e999", "dip_second"),
        ("dip 2 = 41", "0 and 40|0 to 40"),
        ("dip 3 = 10", "cannot be read"),
        ("ring x 1 = 0.2", "of neither side"),
        ("dip 2 = 10; dip = 12", "said twice"),
        ("dpi 2 = 10", "dip"),
        ("backwards 2 = maybe", "'maybe' was given|maybe"),
        ("dip 2", "cannot be read"),
        ("ring x = -1; distance 1 = 0.5", "limbus or cornea"),
        ("", "is read from a text such as"),
        (None, "is read from a text such as"),
        ("dip 2 = 12; " * 400, "at most 2000"),
        ("dip 2 = " + "1" * 1900, "dip_second"),
    ],
)
def test_a_text_that_cannot_be_read_is_named_and_never_evaluated(text, words):
    with pytest.raises(es.LearnerError, match=words):
        Session.read(text)


@given(st.text(alphabet=st.sampled_from("dip=;:, 12-.e'\"()_[]markxyz\n\\{}"), max_size=60) | st.text(max_size=40))
@example("=" * 2000)
@example(" " * 1999 + "=")
@example("a " * 999 + "!")
@example("dip" + " " * 1900 + "=")
@settings(max_examples=200)
def test_any_text_is_read_or_refused_in_words(text):
    try:
        found = Session.read(text)
    except es.LearnerError as error:
        found = str(error)
    assert isinstance(found, Session) or 20 < len(found) < 400


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"dip": 10}, "dip"),
        ({"dip_second": [10, 12]}, "one number"),
        ({"dip_second": "10"}, "dip_second"),
        ({"dip_second": True}, "dip_second"),
        ({"kind_first": "bent"}, "'chosen' or 'straight'"),
        ({"backwards_first": 1}, "False or True"),
        ({"eye": "third"}, "'right' or 'left'"),
        ({"pupil": 1.0}, "pupil"),
    ],
)
def test_what_makes_no_sense_is_refused_by_name(changes, words):
    with pytest.raises(es.LearnerError, match=words):
        Session(**changes)


@given(sessions(), st.sampled_from([key for key in NUMBERS if key[-1] in "td"]), st.floats(0.0, 1.0))
@settings(max_examples=60)
def test_linked_sides_move_alike_or_against_within_their_range(session, key, share):
    what, name = KEYS[key], key.rpartition("_")[0]
    other = f"{name}_{SIDES[key.endswith('first')]}"
    value = what.low + share * (what.high - what.low)
    for how in ("each", "together", "against"):
        if name == "distance" and (session["ring_x"] or session["ring_y"]):
            session = session.but(ring_x=0.0, ring_y=0.0)  # so that no mark comes to lie on the cornea
        moved = session.linked(key, value, how)
        assert moved[key] == pytest.approx(value)
        assert {k for k in KEYS if moved[k] != session[k]} <= {key, other}
        by = {"each": 0.0, "together": value - session[key], "against": session[key] - value}[how]
        assert moved[other] == pytest.approx(np.clip(session[other] + by, what.low, what.high), abs=1e-8)


def test_linked_settings_and_what_is_of_neither_side():
    assert PLAN.linked("backwards_first", True, "together").changes == {
        "backwards_first": True,
        "backwards_second": True,
    }
    assert PLAN.linked("turned_second", True, "against").changes == {"turned_second": True}
    assert PLAN.linked("ring_x", 0.5, "against").changes == {"ring_x": 0.5}
    with pytest.raises(es.LearnerError, match="'each', 'together' or 'against'"):
        PLAN.linked("dip_first", 12, "apart")


def _settled_ones(seed, n, **kept):
    rng = np.random.default_rng(seed)
    found = (_drawn(rng, 5).but(**kept) for _ in itertools.count())
    return list(itertools.islice((one for one in found if one.settled.settled and one.changes), n))


def test_a_mirrored_session_settles_centred_and_flat():
    for one in _settled_ones(1, 12, ring_x=0.0, ring_y=0.0, backwards_first=False):
        for side in SIDES:
            mirrored = one.mirrored(side)
            assert all(mirrored[f"{name}_first"] == mirrored[f"{name}_second"] for name in ("dip", "tunnel", "kind"))
            if mirrored.settled.settled:
                assert mirrored.settled.decentration < 1e-6
                assert mirrored.settled.tilt < 1e-5
    assert Session(ring_x=0.3, dip_second=12).mirrored().changes == {"ring_x": 0.3}


def test_a_swapped_session_turns_the_pose_by_half_a_turn():
    for one in _settled_ones(2, 12):
        a, b = one.settled, one.swapped().settled
        assert [b.x, b.y, b.z] == pytest.approx([-a.x, -a.y, a.z], abs=1e-6)
        assert b.normal == pytest.approx(np.array([-1.0, -1.0, 1.0]) * a.normal, abs=1e-7)
        assert one.swapped().swapped() == one


def test_free_length_is_set_by_what_is_left_outside():
    one = PLAN.but(tunnel_second=1.0)
    assert one.free_length == pytest.approx({"first": 5.2, "second": 6.2})
    longer = one.with_free_length("second", 5.73)
    assert longer.free_length["second"] == pytest.approx(5.73, abs=1e-9)
    assert set(longer.changes) == {"tunnel_second", "outside_second"}
    assert PLAN.with_free_length("first", PLAN.free_length["first"]) == PLAN
    for end in ("low", "high"):
        outside = getattr(KEYS["outside_first"], end)
        free = PLAN.free_length["first"] + 0.8 - outside
        assert PLAN.with_free_length("first", free)["outside_first"] == pytest.approx(outside)
    with pytest.raises(es.LearnerError, match="3.00 to 5.80 mm"):
        PLAN.with_free_length("first", 6.0)
    assert STUCK.free_length["second"] is None
    with pytest.raises(es.LearnerError, match="never enters"):
        STUCK.with_free_length("second", 5.0)


def test_a_session_never_changes_and_carries_its_plan():
    one = Session(dip_second=20, eye="left", pupil=5, white_to_white=12.2)
    with pytest.raises(TypeError):
        one.values["dip_second"] = 3
    assert one.plan == Session(eye="left", pupil=5, white_to_white=12.2)
    assert one.planned.decentration < 1e-6
    assert one.plan.refraction_surprise == 0.0
    assert one.refraction_surprise == pytest.approx(float(one.sight.M) - float(one.plan.sight.M))
    assert one != "dip 2 = 20"
    assert repr(PLAN) == "Session: as planned"
    assert Session(dip_second=-0.0).text() == "eyesim live: dip 2 = 0"
    assert "dip 2 = 20 deg" in repr(one)


# ---------------------------------------------------------------- classic mistakes

# What each brings [mm off centre, deg of tilt], from the project's design and its plan of lessons; their dip is 5 deg
# where ours is 10, and the marker's numbers come from a rough solver: hence the widths.
BRINGS = {
    "One mark 10 deg off": ((0.54, 0.02), (0.0, 0.5)),
    "One needle 10 deg steeper": ((0.0, 0.1), (5.3, 0.2)),
    "One needle run the wrong way": ((3.9, 0.3), None),
    "Marker 0.5 mm off-centre": ((0.45, 0.1), (2.9, 0.6)),
    "Ends turned 45 and 30 deg": ((0.0, 0.15), (7.6, 0.2)),
    "One tunnel 1 mm short": ((0.7, 0.05), (0.0, 1.5)),
    "One haptic bent 10 deg": ((0.0, 0.05), (4.0, 0.3)),
    "Single plane, one sclera thinner": ((0.35, 0.1), (0.0, 1.0)),
    "Small eye": ((0.0, 1e-6), (0.0, 1e-5)),
    "Large eye": ((0.0, 1e-6), (0.0, 1e-5)),
    "Both sides wrong alike": ((0.0, 1e-6), (0.0, 1e-5)),
}
DOMINANT = {
    "One mark 10 deg off": ("mark", "off", "front"),
    "One needle 10 deg steeper": ("dip", "lean", "side"),
    "One needle run the wrong way": ("backwards", "lean", "side"),
    "Marker 0.5 mm off-centre": ("ring", "off", "front"),
    "Ends turned 45 and 30 deg": ("turn", "deep", "side"),
    "One tunnel 1 mm short": ("tunnel", "off", "front"),
    "One haptic bent 10 deg": ("bend", "lean", "side"),
    "Single plane, one sclera thinner": ("tunnel", "off", "front"),
    "Small eye": ("white_to_white", "deep", "side"),
    "Large eye": ("white_to_white", "deep", "side"),
    "Both sides wrong alike": ("dip", "deep", "side"),
}


@pytest.mark.parametrize("name", BRINGS)
def test_a_mistake_does_what_the_lessons_say(name):
    session, (off, tilt) = MISTAKES[name].session(), BRINGS[name]
    pose = session.settled
    assert pose.settled
    assert pose.decentration == pytest.approx(off[0], abs=off[1])
    assert tilt is None or pose.tilt == pytest.approx(tilt[0], abs=tilt[1])
    found = why(PLAN, session)
    dominant, share, view = DOMINANT[name]
    assert (found.dominant, found.view) == (dominant, view)
    assert max(found.change.shares, key=found.change.shares.get) == share


def test_mistakes_as_a_set():
    assert set(MISTAKES) == {"As planned", "Single plane, never through", *BRINGS}
    assert len({one.key for one in MISTAKES.values()}) == len(MISTAKES)
    assert MISTAKES["As planned"].session() == PLAN
    assert MISTAKES["Single plane, never through"].session().settled.reason == "needle never enters the eye"
    assert MISTAKES["Small eye"].session(Session(eye="left", pupil=5, dip_first=20)).changes == {
        "eye": "left", "pupil": 5.0, "white_to_white": 10.8,
    }  # fmt: skip
    outcomes = {name: outcome(MISTAKES[name].session()).key for name in MISTAKES}
    assert outcomes["Both sides wrong alike"] == "focus"  # looks perfect, the refraction is not
    assert set(outcomes.values()) == {option.key for option in OPTIONS}
    assert MISTAKES["One tunnel 1 mm short"].session().settled.x > 0.3  # away from the second side


# ---------------------------------------------------------------- why


def _unit(meridian):
    return np.array([np.cos(np.radians(meridian)), np.sin(np.radians(meridian))])


def _line(*poses):
    """Where the first opening lies from the second, midway between the poses, seen from in front."""
    spans = [pose.passages[0].inner[:2] - pose.passages[1].inner[:2] for pose in poses]
    line = sum(span / np.hypot(*span) for span in spans)
    return line / np.hypot(*line)


def _two_sentences(found):
    assert len(found.sentences) == 2
    for words in found.sentences:
        assert words[0].isupper()
        assert re.search(r"[^.][.]$", words)
        assert not re.search(r"[.!?]\s|  |nan|-0\.0+(?!\d)|\(\)|None| ,", words)
    assert found.text == " ".join(found.sentences)


def _values(clauses):
    return {one.name: one.values for one in clauses}


def _says_what_the_poses_say(found):
    """Every size, side and sign of the first sentence, from the poses themselves; what is left out is small."""
    before, after, change = found.before, found.after, found.change
    if change is None:
        assert before == after
        return
    p, q, told = before.settled, after.settled, _values(change.clauses)
    assert all(str(clause) in found.sentences[0] for clause in change.clauses)
    moved, line = np.array([q.x - p.x, q.y - p.y]), _line(p, q)
    across = np.array([-line[1], line[0]])
    for name, axis in (("along", line), ("across", across)):
        size = float(moved @ axis)
        if name not in told:
            assert abs(size) < 0.05 or np.hypot(*moved) < 0.071
            continue
        assert told[name]["size"] == pytest.approx(abs(size), abs=1e-9)
        way = told[name]["way"]
        ahead = {"first": line, "second": -line}[way] if name == "along" else _unit(es.clock_to_meridian(float(way)))
        assert size * (ahead @ axis) > 0.0
        assert abs(ahead @ axis) > 0.965  # within half an hour
    lean = np.degrees(np.arccos(np.clip(p.normal @ q.normal, -1.0, 1.0)))
    turned_to = told.get("tilt") or told.get("flat")
    if turned_to:
        assert (turned_to["before"], turned_to["after"]) == pytest.approx((p.tilt, q.tilt), abs=1e-9)
        assert ("flat" in told) == (q.tilt < 0.05)
    elif "lean" in told:
        assert told["lean"]["size"] == pytest.approx(lean, abs=1e-4)
        assert abs(q.tilt - p.tilt) <= 0.5 * lean + 1e-9
    else:
        assert lean < 0.5
    deeper = float(q.depth - p.depth)
    if "deep" in told:
        assert told["deep"]["size"] == pytest.approx(abs(deeper), abs=1e-9)
        assert (told["deep"]["way"] == "deeper") == (deeper > 0.0)
    else:
        assert abs(deeper) < 0.05
    if "pull" in told:
        assert (told["pull"]["before"], told["pull"]["after"]) == pytest.approx((p.tension[0], q.tension[0]))
    left = float(after.sight.M) - float(before.sight.M)
    if before["white_to_white"] != after["white_to_white"]:  # another eye: each against its own plan
        left -= float(after.plan.sight.M) - float(before.plan.sight.M)
    if "sight" in told:
        assert told["sight"]["size"] == pytest.approx(abs(left), abs=1e-9)
        assert (told["sight"]["way"] == "hyperopic") == (left > 0.0)
    else:
        assert not abs(left) >= 0.1
    turned = abs((q.roll - p.roll + 180.0) % 360.0 - 180.0)
    if "still" in told:
        assert np.hypot(*moved) < 0.005
        assert (lean < 0.05, abs(deeper) < 0.005, turned < 0.5) == (True, True, True)
    if "hardly" in told:
        assert (np.hypot(*moved) < 0.05, lean < 0.5, abs(deeper) < 0.05, turned < 2.0) == (True,) * 4
    assert ("unseen" in told) == (before.sight.seen and not after.sight.seen)
    assert ("seen" in told) == (after.sight.seen and not before.sight.seen)


# What each law claims of the openings: names of `claims` below, if the factor grows and if it shrinks.
CLAIMS = {
    "distance": (("deeper", "further out"), ("less deep", "nearer")),
    "limbus": (("nearer",), ("further out",)),
    "limbus straight": (("shorter",), ("longer",)),
    "dip": (("deeper",), ("less deep",)),
    "dip straight": (("shorter",), ("longer",)),
    "tunnel": (("longer",), ("shorter",)),
    "outside": (("less free",), ("more free",)),
    "turn": (("in place",), ("in place",)),
    "bend": (("in place",), ("in place",)),
    "white_to_white": (("further out",), ("nearer",)),
}


def _reasons_are_measured(found):
    """Each law and each clause of the second sentence, for a change of one factor, from the openings themselves."""
    p, q = found.before.settled, found.after.settled
    inner = [np.array([passage.inner for passage in pose.passages]) for pose in (p, q)]
    sunk = -(inner[1] - inner[0])[:, 2]
    out = np.diff([np.hypot(*one[:, :2].T) for one in inner], axis=0)[0]
    longer = np.array([float(b.tunnel_length - a.tunnel_length) for a, b in zip(p.passages, q.passages, strict=True)])
    free = np.asarray(q.free_length) - np.asarray(p.free_length)
    in_place = np.abs(inner[1] - inner[0]).max() < 1e-9
    claims = {
        "deeper": max(sunk) > 0.0,
        "less deep": min(sunk) < 0.0,
        "further out": max(out) > 0.0,
        "nearer": min(out) < 0.0,
        "shorter": min(longer) < 0.0,
        "longer": max(longer) > 0.0,
        "in place": in_place,
        "less free": min(free) < 0.0,
        "more free": max(free) > 0.0,
    }
    for key, grown in found.reason.laws:
        for claim in CLAIMS.get(key, ((), ()))[0 if grown else 1]:
            assert claims[claim], (key, grown, claim)
    if not found.reason.laws and found.dominant in ("tunnel", "turn", "eye"):  # it is said to have no effect
        assert in_place
        assert abs(q.tilt - p.tilt) < 1e-6
    if found.reason.alike:
        changed = [key for key in KEYS if found.before[key] != found.after[key]]
        assert changed == ["white_to_white"] or {key.rpartition("_")[2] for key in changed} == set(SIDES)
    held = np.diff([np.degrees(np.arcsin([x.held[2] for x in pose.passages])) for pose in (p, q)], axis=0)[0]
    line, moved = _line(p, q), np.array([q.x - p.x, q.y - p.y])
    axes = {"along": line, "across": np.array([-line[1], line[0]])}
    slip = (inner[1] - inner[0]).mean(axis=0)[:2]
    assert all(str(clause) in found.sentences[1] or "after" not in clause.values for clause in found.reason.clauses)
    for name, v in _values(found.reason.clauses).items():
        side = SIDES.index(v["side"]) if "side" in v else 0
        if name == "held":
            size = held[side] - (held[1 - side] if v["against"] else 0.0)
            assert v["size"] * (1 if v["way"] == "steeper" else -1) == pytest.approx(size, abs=0.051)
        elif name == "held together":
            assert v["size"] * (1 if v["way"] == "steeper" else -1) == pytest.approx(held.mean(), abs=0.051)
            assert (v["deeper"] == "deeper") == (q.depth > p.depth)
        elif name == "slips":
            ways = v["way"].split(" and ")
            assert all((slip @ axes[way]) * (moved @ axes[way]) > 0.0 for way in ways)
            size = np.hypot(*(slip @ axes[way] for way in ways)) if len(ways) > 1 else abs(slip @ axes[ways[0]])
            assert v["size"] == pytest.approx(size, rel=0.2, abs=1e-9)
        elif name == "free":
            size = free[side] - (free[1 - side] if v["against"] else 0.0)
            assert v["size"] * (1 if v["way"] == "more" else -1) == pytest.approx(size, abs=1e-9)
            towards = (1 - 2 * side) * float(line @ moved)
            assert v["does"].startswith("pulls") == (towards > 0.0) == (v["way"] == "less")
        elif name == "sunk":
            assert v["size"] == pytest.approx(sunk[side] - sunk[1 - side], abs=1e-9)
        elif name == "sunk together":
            assert v["size"] * (1 if v["deeper"] == "deeper" else -1) == pytest.approx(sunk.mean(), abs=1e-9)
            assert sunk.mean() * (q.depth - p.depth) > 0.0
        elif name in ("drawn", "tight"):
            assert ("tighter" in v["way"]) == (q.tension[0] > p.tension[0])


def _pairs(seed, n, changes):
    """Pairs of sessions that have both settled, of which the second has so many things changed."""
    rng = np.random.default_rng(seed)
    found = 0
    while found < n:
        before = _drawn(rng, 4) if rng.random() < 0.6 else PLAN
        after = _drawn(rng, changes, start=before)
        if rng.random() < 0.3:
            key = str(rng.choice([key for key in NUMBERS if key.endswith("first")]))
            after = before.linked(key, _on_a_step(key, rng, 0.3), str(rng.choice(["together", "against"])))
        if before.settled.settled and after.settled.settled:
            found += 1
            yield before, after


@pytest.mark.slow
@pytest.mark.parametrize("changes", [1, 3, 6])
def test_why_says_what_the_poses_say_whatever_was_changed(changes):
    for before, after in _pairs(changes, 90, changes):
        found = why(before, after)
        _two_sentences(found)
        _says_what_the_poses_say(found)
        things = [t for t in FACTORS if any(KEYS[k].key in FACTORS[t] for k in KEYS if before[k] != after[k])]
        assert found.dominant in (things or [""])
        if len(things) == 1:
            _reasons_are_measured(found)
            assert found.alone is None
        if len(things) > 1:
            assert found.text.startswith(f"{COUNTS[len(things)]} things were changed (")
        assert bool(things) != ("Nothing was changed" in found.text)


@pytest.mark.parametrize("thing", FACTORS)
def test_why_gives_a_measured_reason_for_each_thing(thing):
    """Small and large, one side and both, chosen and straight passes; what is undone is told as its opposite."""
    rng = np.random.default_rng([7, *thing.encode()])
    keys = [key for key, what in KEYS.items() if what.key in FACTORS[thing]]
    straight = Session(kind_first="straight", kind_second="straight", dip_first=12, dip_second=12)
    told = 0
    for before, share in itertools.product((PLAN, straight, PLAN.but(turned_first=True)), (0.02, 0.2, 0.4)):
        for some in (keys[:1], keys):
            after = before.but(**{key: _on_a_step(key, rng, share) for key in some})
            if after == before or not after.settled.settled:
                continue
            there, back = why(before, after), why(after, before)
            for found in (there, back):
                _two_sentences(found)
                _says_what_the_poses_say(found)
                _reasons_are_measured(found)
                assert found.dominant == thing
            for name in ("along", "across", "deeper", "lean_along", "lean_across", "roll"):
                assert getattr(there.change, name) == pytest.approx(-getattr(back.change, name), abs=1e-9)
            told += 1
    assert told >= 4 or len(KEYS[keys[0]].__dict__.get("options", ())) == 2


@pytest.mark.parametrize(
    ("changes", "clause"),
    [
        ({"dip_first": 20}, "the first haptic, held 10 deg steeper, tilts the optic about the haptic axis"),
        ({"dip_second": 4}, "the second haptic, held 6 deg flatter, tilts the optic about the haptic axis"),
        ({"dip_first": 14, "dip_second": 6}, "held 8 deg steeper against the other than before, tilts the optic"),
        ({"dip_first": 20, "dip_second": 20}, "the haptics, 10 deg steeper on average, set the lens deeper"),
        ({"dip_first": 5, "dip_second": 5}, "the haptics, 5 deg flatter on average, set the lens less deep"),
        ({"bend_second": 8}, "the new shape tilts the optic about the haptic axis"),
        ({"outside_first": 1.4}, "with 0.60 mm less haptic free the first side pulls the lens towards itself"),
        ({"outside_second": 0.4}, "with 0.40 mm more haptic free the second side pushes the lens away"),
        ({"ring_x": -0.4}, "the second side opens 0.65 mm deeper against the other"),
        ({"distance_first": 1.2, "distance_second": 1.2}, "mm less deep on average"),
        ({"mark_first": 10, "mark_second": 10}, "the lens only rotates between its internal entries"),
        ({"tunnel_first": 1.5, "tunnel_second": 1.5}, "both haptics are only held less tight"),
        ({"limbus_first": 10, "limbus_second": 10}, "the haptics, pulled tighter, hold the lens less deep"),
        ({"backwards_second": True}, "held another way round, takes the lens to another place"),
    ],
)
def test_why_names_what_carries_a_change_to_the_lens(changes, clause):
    assert clause in why(PLAN, Session(**changes)).sentences[1]


def test_a_shift_and_a_depth_of_like_weight_are_both_explained():
    straight = Session(kind_first="straight", kind_second="straight")
    reason = why(straight, straight.but(dip_second=15)).sentences[1]
    assert "mm more haptic free the second side pushes the lens away" in reason
    assert "the haptics, 2.5 deg steeper on average, set the lens deeper" in reason


def test_what_is_put_right_lies_flat_again():
    tilted = Session(bend_second=10)
    assert f"lies flat instead of tilted by {tilted.settled.tilt:.1f} deg" in why(tilted, PLAN).sentences[0]


def test_several_things_are_each_tried_alone():
    found = why(PLAN, Session(mark_second=10, dip_second=11))
    alone = {"marks": Session(mark_second=10), "dips": Session(dip_second=11)}
    assert "Of these the marks did most (alone 0.54 mm aside)" in found.text
    assert found.dominant == "mark"
    assert found.alone.off == pytest.approx(alone["marks"].settled.decentration)
    assert alone["marks"].settled.tilt < 0.5  # so that it is not told
    assert found.alone.shown == ["off"]
    found = why(PLAN, Session(mark_second=1, dip_second=25))
    assert found.alone.lean == pytest.approx(Session(dip_second=25).settled.tilt, abs=1e-4)
    assert found.alone.deeper == pytest.approx(Session(dip_second=25).settled.depth - PLAN.settled.depth)
    assert found.dominant == "dip"
    both = why(PLAN, Session(tunnel_first=3, tunnel_second=3, outside_first=0.2, outside_second=0.2, pupil=4))
    assert both.change is not None
    sides = {"tunnel_first": 3.0, "outside_first": 0.2, "tunnel_second": 3.0, "outside_second": 0.2}
    one_frees_the_other = why(Session(**sides), Session(outside_first=1.2, outside_second=1.2))
    _two_sentences(one_frees_the_other)
    nothing = why(PLAN, Session(wall_first=0.6, turn_second=60))
    assert "alone none of these moves the lens to speak of" in nothing.text.casefold()


def test_what_has_no_effect_is_said_to_have_none():
    for changes, reason in (
        ({"wall_second": 0.7}, "scleral thickness counts only on a single-plane pass"),
        ({"turn_second": 80}, "turn counts only where the needle is turned down"),
        ({"eye": "left"}, "only nasal and temporal change places"),
        ({"pupil": 3.25}, "holds no haptic"),
    ):
        found = why(PLAN, Session(**changes))
        assert "the lens stays where it is" in found.sentences[0]
        assert reason in found.sentences[1]
    assert "would be turned down" in why(PLAN, Session(turn_second=80)).text
    straight = Session(kind_second="straight")
    assert "would be 1 mm long" in why(straight, straight.but(tunnel_second=1)).text
    slight = why(PLAN, Session(tunnel_first=2.05)).sentences[1]
    assert slight == "A longer tunnel uses up haptic and opens further round the eye, but by too little here to show."


def test_a_wide_pupil_changes_the_refraction_and_not_the_lens():
    found = why(PLAN, Session(pupil=6))
    was, now = (float(found.reason.clauses[0].values[name]) for name in ("was", "now"))
    assert (was, now) == pytest.approx((PLAN.sight.M, Session(pupil=6).sight.M), abs=0.0051)
    assert [clause.name for clause in found.change.clauses] == ["still", "sight"]
    _says_what_the_poses_say(found)
    assert now < was - 0.3


@pytest.mark.parametrize("stuck", [STUCK, SHORT, Session(backwards_first=True, backwards_second=True)])
def test_why_to_and_from_no_resting_place(stuck):
    gone, back, still = why(PLAN, stuck), why(stuck, PLAN), why(stuck, stuck.but(pupil=4))
    for found in (gone, back, still, why(stuck, stuck)):
        _two_sentences(found)
        assert found.change is None
        assert explain_failure(stuck) in found.sentences[1].replace("Before: ", "").replace("W", "w", 1).replace(
            "A", "a", 1
        )
    assert "has no resting place, since a " in gone.sentences[0]
    assert "comes to rest again, centred and flat" in back.sentences[0]
    assert "still has no resting place" in still.sentences[0]
    assert gone.dominant in ("dip", "tunnel", "outside", "backwards")


def test_the_thing_that_alone_leaves_no_resting_place_is_named():
    assert why(PLAN, SHORT.but(mark_first=3)).dominant == "outside"
    assert why(SHORT.but(mark_first=3), PLAN).dominant == "outside"


def test_nowhere_names_a_limit_that_is_one():
    least = least_dip(STUCK, "second")
    assert f"only from {least:.1f} deg on" in explain_failure(STUCK)
    assert not STUCK.but(dip_second=least - 0.1).settled.settled
    assert STUCK.but(dip_second=least + 0.1).settled.settled
    for short in (SHORT, Session(distance_first=3, distance_second=3), Session(outside_first=3)):
        more = missing_length(short)
        assert more > 0.0
        rests = [
            es.settle(
                short.eye, short.lens.but(haptic_length=8.0 + more + step), short.first, short.second, on_failure="flag"
            ).settled
            for step in (-0.1, 0.0)
        ]
        assert rests == [False, True]
    both = explain_failure(STUCK.but(dip_first=5))
    assert "either needle" in both
    assert ";" not in both
    assert "first" in explain_failure(STUCK.but(dip_first=4))


@pytest.mark.parametrize(("distance", "limbus", "wall"), [(2.0, 20.0, 0.5), (1.0, 10.0, 0.4), (3.0, 5.0, 0.7)])
def test_the_dip_that_would_enter_is_the_one_of_the_geometry(distance, limbus, wall):
    """The needle grazes the inner sphere where it comes nearest to the common centre of both."""
    outer, size = 12.0, 11.8
    polar = np.arcsin(size / 2.0 / outer) + distance / outer
    graze = np.sqrt(1.0 - (1.0 - wall / outer) ** 2)  # of the way in, from the outer wall, in units of its radius
    towards, down = np.sin(polar) * np.sin(np.radians(limbus)), np.cos(polar)
    least = np.degrees(np.arcsin(graze / np.hypot(towards, down)) - np.arctan2(towards, down))
    one = Session(kind_second="straight", distance_second=distance, limbus_second=limbus, wall_second=wall)
    one = one.but(dip_second=np.floor(least))
    assert not one.settled.settled
    found = least_dip(one, "second")
    assert least <= found < least + 0.1
    through = [bool(np.isfinite(one.but(dip_second=dip).settled.free_length[1])) for dip in (found, least - 1e-6)]
    assert through == [True, False]


def test_why_settles_nothing_that_has_settled(monkeypatch):
    after = Session(dip_second=18)
    for one in (PLAN, after):
        assert one.settled.settled
        assert one.planned_sight.seen
        assert one.sight.seen
    monkeypatch.setattr(table, "settle", lambda *_, **__: pytest.fail("settled again"))
    assert why(PLAN, after).dominant == "dip"


def test_describe_changes():
    assert describe_changes(PLAN, PLAN) == "nothing"
    for changes, words in (
        ({"dip_first": 20, "dip_second": 20}, "both needles run at 20 deg to the iris plane instead of 10"),
        ({"mark_first": -5, "mark_second": 5},
         "the first mark is turned by -5 and the second by 5 deg"),
        ({"dip_first": 15, "dip_second": 5},
         "the first needle runs at 15 and the second at 5 deg to the iris plane instead of 10"),
        ({"limbus_first": 15, "limbus_second": 25},
         "the first needle runs at 15 and the second at 25 deg to the limbus instead of 20"),
        ({"tunnel_first": 1, "tunnel_second": 2.5}, "the first tunnel is 1 and the second 2.5 mm long instead of 2"),
        ({"outside_first": 1, "outside_second": 0.5},
         "the first haptic has 1 and the second 0.5 mm externalised instead of 0.8"),
        ({"turn_first": 40, "turn_second": 20},
         "the first needle would be turned down at the end to 40 and the second to 20 deg instead of 30"),
        ({"bend_first": -5}, "the first haptic is bent to the back by 5 deg"),
        ({"bend_first": -5, "bend_second": 5},
         "the first haptic is bent to the back by 5 deg and the second haptic is bent to the front by 5 deg"),
        ({"wall_first": 0.6, "wall_second": 0.6, "kind_first": "straight", "kind_second": "straight"},
         "both needles pass in a single plane and both scleral thicknesses are 0.6 mm instead of 0.5 (tunnels 2.35 mm "
         "instead of 2.00)"),
        ({"ring_x": 0.3}, "the marker ring lies 0.3 mm towards 3 o'clock"),
        ({"ring_y": -0.1}, "the marker ring lies 0.1 mm towards 6 o'clock"),
        (
            {"ring_x": -0.5, "ring_y": 0.2},
            "the marker ring lies 0.5 mm towards 9 o'clock and 0.2 mm towards 12 o'clock",
        ),
        ({"turned_first": True, "turned_second": True}, "both needles are turned down at the end to 30 deg"),
        ({"turned_first": True, "turned_second": True, "turn_first": 45},
         "the first needle is turned down at the end to 45 and the second to 30 deg"),
        ({"kind_second": "straight"},
         "the second needle passes in a single plane (tunnels 2.00 and 1.80 mm instead of 2.00)"),
        ({"backwards_first": True, "eye": "left"},
         "the first needle is run the wrong way round and it is a left eye instead of a right one"),
    ):  # fmt: skip
        assert describe_changes(PLAN, Session(**changes)) == words
    bent = Session(bend_first=5)
    assert "bent to the back by 5 deg instead of to the front by 5" in why(bent, Session(bend_first=-5)).text
    assert "no longer bent" in why(bent, PLAN).text
    assert describe_changes(Session(mark_first=4), PLAN) == "the first mark is turned by 0 deg instead of 4"
    back = "the marker ring lies centred instead of 0.4 mm towards 3 o'clock"
    assert describe_changes(Session(ring_x=0.4), PLAN) == back
    one, other = Session(mark_first=4, mark_second=2), Session(mark_first=5, mark_second=1)
    assert describe_changes(one, other) == "the first mark is turned by 5 and the second by 1 deg instead of 4 and 2"


def test_why_takes_two_sessions():
    for one in ((PLAN, "dip 2 = 20"), (None, PLAN)):
        with pytest.raises(es.LearnerError, match="two Sessions"):
            why(*one)
    with pytest.raises(dataclasses.FrozenInstanceError):
        why(PLAN, PLAN).dominant = "dip"


# ---------------------------------------------------------------- votes


def test_outcome_follows_from_limits_and_refraction():
    found = set()
    near = [
        {"mark_second": 7},
        {"mark_second": 8},
        {"dip_second": 19},
        {"dip_second": 20},
        *({f"dip_{side}": 16.5 for side in SIDES}, {f"dip_{side}": 17.5 for side in SIDES}),
    ]
    assert [outcome(Session(**changes)).key for changes in near] == ["well", "off", "well", "tilted", "well", "focus"]
    for one in [*_settled_ones(5, 25), *(m.session() for m in MISTAKES.values())]:
        pose, key = one.settled, outcome(one).key
        found.add(key)
        if not pose.settled:
            assert key == "none"
            continue
        off, tilted = pose.decentration > DECENTRATION_LIMIT, pose.tilt > TILT_LIMIT
        blurred = not abs(float(one.sight.M) - float(one.plan.sight.M)) <= OUT_OF_FOCUS
        assert key == {(1, 1): "both", (1, 0): "off", (0, 1): "tilted"}.get(
            (int(off), int(tilted)), "focus" if blurred else "well"
        )
    assert found == {option.key for option in OPTIONS}
    with pytest.raises(es.LearnerError, match="takes a Session"):
        outcome("dip 2 = 20")


@given(st.lists(st.tuples(st.sampled_from([o.key for o in OPTIONS]), st.integers(-5, 40)), max_size=12))
@settings(max_examples=40)
def test_a_tally_counts_each_vote_once_and_never_below_none(votes):
    tally, counts = Tally(), dict.fromkeys((o.key for o in OPTIONS), 0)
    for key, n in votes:
        tally = tally.plus(key, n)
        counts[key] = min(max(counts[key] + n, 0), 1000)
    assert {key: tally[key] for key in counts} == counts
    assert tally.total == sum(counts.values())
    assert tally.cleared() == Tally()
    words = tally.words(Session(mark_second=10))
    assert "Right is II: off centre." in words
    if tally.total:
        assert f"{tally.total} voted: " in words
        assert f"{counts['off']} of {tally.total} saw it." in words
        assert words.endswith("saw it.") == (2 * counts["off"] >= tally.total)
    else:
        assert words.startswith("Nobody has voted.")


@pytest.mark.parametrize(
    ("session", "key", "line"),
    [
        (PLAN, "focus", "taken to cost focus; but the lens lies as deep as planned, and that leaves 0.00 D."),
        (Session(mark_second=2), "off", "than does: it lies only 0.11 mm off centre."),
        (Session(mark_second=7), "off", "than does: it lies 0.38 mm off centre, within the limit."),
        (Session(bend_second=10), "tilted", "than does: it is tilted by 4.1 deg, within the limit."),
        (Session(mark_second=10), "tilted", "slips sideways, 0.54 mm off centre, and is tilted by only 0.3 deg."),
        (SHORT, "off", "A haptic was taken to fit; but with 3.0 mm of each haptic free the two cannot reach"),
        (
            STUCK,
            "off",
            "arrive wherever it is aimed; but at 5 deg to the iris plane the second needle",
        ),
        (PLAN, "none", "fails; but both needles enter, and with 5.2 mm of each haptic free both reach."),
        (Session(outside_second=1), "none", "with 5.2 and 5.0 mm of the haptics free both reach."),
    ],
)
def test_what_misled_is_true_near_a_limit_and_far_from_it(session, key, line):
    assert line in explain_wrong_vote(session, key)


def test_the_largest_wrong_group_is_told_what_misled_it():
    session = Session(mark_second=10)
    words = Tally().plus("tilted", 7).plus("well", 2).plus("off", 3).words(session)
    assert words.endswith(explain_wrong_vote(session, "tilted"))
    assert "A shift was taken for a tilt" in words
    assert Tally().plus("tilted", 5).plus("off", 5).words(session).endswith("5 of 10 saw it.")


@pytest.mark.parametrize("right", [option.key for option in OPTIONS])
def test_what_misled_is_told_with_the_numbers_of_the_session(right):
    session = next(
        m.session() for m in MISTAKES.values() if m.name != "As planned" and outcome(m.session()).key == right
    )
    pose = session.settled
    assert explain_wrong_vote(session, right) == ""
    lines = [explain_wrong_vote(session, option.key) for option in OPTIONS if option.key != right]
    assert len(set(lines)) == (1 if right == "none" else len(OPTIONS) - 1)
    for line in lines:
        assert re.fullmatch(r"[A-Z].*[^.]\.", line)
        assert "{" not in line
        for size in re.findall(r"(\d\.\d\d) mm off centre", line):
            assert float(size) == pytest.approx(pose.decentration, abs=0.0051)
        for size in re.findall(r"by (?:only )?(\d+\.\d) deg", line):
            assert float(size) == pytest.approx(pose.tilt, abs=0.051)
        for size, way in re.findall(r"(\d\.\d\d) mm (deeper|less deep) than planned", line):
            deeper = float(pose.depth - session.planned.depth)
            assert float(size) * (1 if way == "deeper" else -1) == pytest.approx(deeper, abs=0.0051)
        for size in re.findall(r"([+-]\d\.\d\d) D", line):
            assert float(size) == pytest.approx(session.refraction_surprise, abs=0.0051)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        (lambda: Tally((1, 2)), "6 counts"),
        (lambda: Tally((1, 2, 3, 4, 5, -1)), "from 0 to 1000"),
        (lambda: Tally((1, 2, 3, 4, 5, True)), "from 0 to 1000"),
        (lambda: Tally().plus("of"), "off"),
        (lambda: Tally().plus("off", 1.5), "whole numbers"),
        (lambda: explain_wrong_vote(PLAN, "tilt"), "tilted"),
    ],
)
def test_votes_that_make_no_sense_are_refused(wrong, words):
    with pytest.raises(es.LearnerError, match=words):
        wrong()


# ---------------------------------------------------------------- cases to solve


@functools.cache
def case_of(seed):
    return random_case(np.random.default_rng(seed))


def test_a_case_is_the_same_for_the_same_seed_and_varies():
    cases = [case_of(seed) for seed in range(30)]
    assert [random_case(np.random.default_rng(seed)) for seed in range(4)] == cases[:4]
    assert len({case.hidden for case in cases}) > 25
    assert {outcome(case.hidden).key for case in cases} >= {"off", "tilted"}
    names = {KEYS[key].key for case in cases for key in case.hidden.changes}
    things = {name.removesuffix("_x").removesuffix("_y") for name in names}
    assert things == set(ERRORS)
    with pytest.raises(es.LearnerError, match="numpy Generator"):
        random_case(17)
    with pytest.raises(dataclasses.FrozenInstanceError):
        cases[0].hidden = PLAN


@pytest.mark.parametrize("seed", range(30))
def test_a_case_can_be_solved_on_the_sliders_and_is_not_solved_at_the_start(seed):
    case = case_of(seed)
    hidden = case.hidden
    assert hidden.settled.settled
    assert outcome(hidden).key not in ("well", "none")
    assert case.start == hidden.plan
    assert not case.solved(case.start)
    assert case.solved(hidden)
    assert case.distance(hidden) == (0.0, 0.0)
    things = {KEYS[key].key for key in hidden.changes}
    assert len(things) in (1, 2)
    for key, value in hidden.changes.items():
        what = KEYS[key]
        assert what.low <= value <= what.high
        assert (value - what.low) / what.step == pytest.approx(round((value - what.low) / what.step), abs=1e-6)
    apart, turned = case.distance(case.start)
    there, here = hidden.settled, case.start.settled
    assert apart == pytest.approx(np.linalg.norm([there.x - here.x, there.y - here.y, there.z - here.z]))
    assert turned == pytest.approx(there.tilt, abs=1e-4)  # the plan is flat
    clue = case.clue(case.start)
    assert f"{apart:.2f} mm and {turned:.1f} deg apart" in clue
    assert not any(word in clue for word in ("mark", "dip", "tunnel", "bent", "ring", "limbus", "outside"))
    assert "alike" in case.clue(hidden)
    assert case.answer(hidden).endswith("You found it.")
    assert case.answer() == case.answer(case.start) == f"What was done: {describe_changes(case.start, hidden)}."


def test_a_clue_points_from_the_learners_lens_to_the_one_looked_for():
    for changes, name, values in (
        ({"mark_second": 10}, "across", {"size": 0.54, "towards": 257.4}),
        ({"outside_first": 1.8}, "along", {"side": "first"}),
        ({"dip_first": 20}, "lean across", {"size": 5.2}),
        ({"dip_first": 0, "dip_second": 0}, "deep", {"size": 0.62, "way": "less deep"}),
        ({"ring_x": 0.6, "outside_second": 1.8}, "lean along", {"side": "first"}),
    ):
        found = Case(Session(**changes)).remaining(PLAN)
        assert found.name == name, changes
        for key, value in values.items():
            assert found.values[key] == (value if isinstance(value, str) else pytest.approx(value, abs=0.051)), key
        assert f"Most of it is {found}." in Case(Session(**changes)).clue(PLAN)
    one = Session(dip_first=20)
    ahead = Case(one).remaining(PLAN).values["towards"]
    assert _unit(ahead) @ one.settled.normal[:2] > 0.08  # the normal leans towards the edge that lies deeper
    assert abs(ahead - Case(PLAN).remaining(one).values["towards"]) == pytest.approx(180.0)


def test_near_enough_is_near_in_place_and_in_tilt():
    case = Case(Session(mark_second=10))
    shifted, tilted = Session(mark_second=12.5), Session(mark_second=10, dip_first=12.5)
    assert case.distance(shifted)[0] > NEAR[0]
    assert case.distance(shifted)[1] < NEAR[1]
    assert case.distance(tilted)[1] > NEAR[1]
    assert not case.solved(shifted)
    assert not case.solved(tilted)
    close = case.hidden.but(mark_second=9.5)
    assert case.solved(close)
    assert case.same(close)


def test_another_cause_of_the_same_pose_is_also_a_way_there():
    case = Case(Session(mark_second=10))
    other = Session(mark_first=-10)
    assert case.solved(other)
    answer = case.answer(other)
    assert "also a way there (the first mark is turned by -10 deg)" in answer
    assert "several causes" in answer
    assert case.same(Session(mark_second=10, pupil=5))


def test_only_what_counts_makes_another_way_there():
    case = Case(Session(mark_first=-5, mark_second=5))
    shared = Session(mark_first=-9, mark_second=1)  # the lens rolls, and lies in the same place
    assert case.solved(shared)
    assert "also a way there (the first mark is turned by -9 and the second by 1 deg)" in case.answer(shared)
    for one in (case.hidden.but(mark_first=-4, mark_second=6), case.hidden.but(wall_first=0.6, turn_second=60)):
        assert case.solved(one)
        assert case.same(one)
    straight = Case(Session(kind_second="straight", wall_second=0.7, backwards_first=True))
    assert straight.same(straight.hidden.but(tunnel_second=1.2))
    assert not straight.same(straight.hidden.but(wall_second=0.7, turned_first=True, turn_first=10))


@pytest.mark.slow
def test_three_hundred_cases_are_all_worth_solving():
    for seed in range(30, 330):
        case = random_case(np.random.default_rng(seed))
        pose = case.hidden.settled
        assert pose.settled
        off, tilted = pose.decentration > DECENTRATION_LIMIT, pose.tilt > TILT_LIMIT
        assert off or tilted or abs(case.hidden.refraction_surprise) > OUT_OF_FOCUS
        assert case.hidden.sight.seen
        assert not case.solved(case.start)
        assert case.solved(case.hidden)
        assert case.distance(case.hidden) == (0.0, 0.0)
        for key, value in case.hidden.changes.items():
            what = KEYS[key]
            steps = (value - what.low) / what.step
            assert what.low <= value <= what.high
            assert steps == pytest.approx(round(steps), abs=1e-6)
        apart, turned = case.distance(case.start)
        assert f"{apart:.2f} mm and {turned:.1f} deg apart" in case.clue(case.start)


def test_a_case_cannot_be_compared_with_no_resting_place():
    case = case_of(0)
    assert case.distance(SHORT) is None
    assert not case.solved(SHORT)
    assert explain_failure(SHORT) in case.clue(SHORT)
    with pytest.raises(es.LearnerError, match="solved by a Session"):
        case.distance("dip 2 = 20")


def test_measured_turns_with_the_head():
    """Both marks turned alike turn every measure of a change along with them."""
    here = measure_change(PLAN, Session(dip_second=18, outside_first=1.2))
    there = measure_change(PLAN.but(mark_first=25, mark_second=25),
                     Session(dip_second=18, outside_first=1.2, mark_first=25, mark_second=25))  # fmt: skip
    assert there.line - here.line == pytest.approx(25.0, abs=1e-6)
    for name in ("along", "across", "lean", "lean_along", "lean_across", "deeper", "roll"):
        assert getattr(there, name) == pytest.approx(getattr(here, name), abs=1e-6)
