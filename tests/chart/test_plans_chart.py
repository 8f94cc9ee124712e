"""Several plans in one picture: shares, paired differences and where lenses lie are those of the outcomes."""

from __future__ import annotations

import re

import numpy as np
import pytest

import eyesim as es
from eyesim import chart as charts
from eyesim import draw
from eyesim.draw.drawing import CAUTION
from eyesim.study import share_gained

EYE, LENS, AIM = es.Eye(), es.Lens(), es.Fixation()
OFF = AIM.opposite(meridian=190.0)


def operated(first=AIM, second=None, **other):
    given = {"n": 600, "rng": 5, "progress": False} | other
    return es.operate(EYE, LENS, first, AIM.opposite() if second is None else second, es.Hands(), **given)


@pytest.fixture(scope="module")
def plans():
    steep = AIM.but(iris_angle=12.0)
    never = AIM.but(outside=5.0)
    return {
        "usual": operated(), "steeper": operated(steep, steep.opposite()), "marks 10 deg off": operated(second=OFF),
        "no haptic left": operated(never, never.opposite()),
    }  # fmt: skip


@pytest.fixture(scope="module")
def chart(plans):
    return charts.plans_chart(plans)


def texts(axes):
    return [text.get_text() for text in axes.findobj(lambda a: hasattr(a, "get_text"))]


def dots(axes):
    """Values that are drawn as single marks, by row, and whether they are filled."""
    found = [line for line in axes.lines if len(line.get_xdata()) == 1]
    return {-int(d.get_ydata()[0]): (float(d.get_xdata()[0]), d.get_markerfacecolor() != "#ffffff") for d in found}


def lines(axes, row):
    """Return the ends of the lines along a row."""
    return [tuple(map(float, line.get_xdata())) for line in axes.lines if list(line.get_ydata()) == [-row, -row]]


@pytest.mark.slow
def test_it_is_an_image_with_its_sentence(chart, plans):
    assert chart.png.startswith(b"\x89PNG")
    assert repr(chart) == chart.sentence
    assert re.search(r'alt="[^"]{200,}"', chart.html)
    assert CAUTION in texts(chart.figure)
    assert "nan" not in chart.sentence.lower()
    assert charts.plans_chart(plans).png == chart.png


def test_shares_and_paired_differences_are_those_of_the_outcomes(chart, plans):
    shares, gains = chart.figure.axes[:2]
    for i, (name, outcomes) in enumerate(plans.items()):
        share = outcomes.share()
        assert dots(shares)[i] == (pytest.approx(100.0 * share.value), True)
        assert lines(shares, i) == [pytest.approx((100.0 * share.low, 100.0 * share.high))]
        assert name in texts(shares)
        assert f"'{name}': {100.0 * share.value:.1f} % (95 % interval" in chart.sentence
        if i:
            gain = share_gained(plans["usual"], outcomes)
            assert dots(gains)[i] == (pytest.approx(100.0 * gain.value), not gain.low <= 0.0 <= gain.high)
            assert lines(gains, i) == [pytest.approx((100.0 * gain.low, 100.0 * gain.high))]
            assert f"{100.0 * gain.value:+.1f} (95 % interval {100.0 * gain.low:+.1f} to" in chart.sentence
    assert 0 not in dots(gains)


def test_lines_boxes_and_strokes_are_quantiles_of_what_settled(chart, plans):
    for axes, what in zip(chart.figure.axes[2:5], ("decentration", "tilt", "depth"), strict=True):
        for i, outcomes in enumerate(list(plans.values())[:3]):
            low, below, middle, above, high = np.quantile(outcomes.settled_values(what), [0.05, 0.25, 0.5, 0.75, 0.95])
            assert lines(axes, i) == [pytest.approx((low, high))]
            box = axes.collections[i].get_paths()[0].get_extents()
            assert (box.x0, box.x1) == pytest.approx((below, above))
            strokes = [
                s.get_xdata()[0] for s in axes.lines if list(s.get_ydata()) == pytest.approx([-i - 0.3, -i + 0.3])
            ]
            assert strokes == [pytest.approx(middle)]
        assert texts(axes).count("none settled") == 1
    dashed = [line for axes in chart.figure.axes[2:] for line in axes.lines if line.get_color() == draw.palette.LIMIT]
    assert [line.get_xdata()[0] for line in dashed] == [0.4, 5.0]
    assert "Refraction surprise" in texts(chart.figure.axes[5])
    surprise = np.median(plans["usual"].settled_values("surprise"))
    assert f"refraction surprise {surprise:+.2f} D" in chart.sentence


def test_the_best_is_named_and_by_how_much(chart, plans):
    best, runner = sorted(plans, key=lambda name: -plans[name].share().value)[:2]
    gap = share_gained(plans[runner], plans[best])
    assert {best, runner} == {"usual", "steeper"}
    assert gap.low < 0.0 < gap.high  # 7 deg of dip more on both sides go into depth
    assert f"4 plans on the same 600 operations. '{best}' keeps most lenses within 0.4 mm and 5 deg" in chart.sentence
    assert f"The next, '{runner}', cannot be told apart, behind by {100.0 * gap.value:.1f} (95 %" in chart.sentence
    assert chart.sentence.count("cannot be told apart from 'usual'") == 1
    assert "none settled, 600 did not settle" in chart.sentence
    clear = charts.plans_chart({"off": plans["marks 10 deg off"], "straight": plans["usual"]}).sentence
    assert "'straight' keeps most" in clear
    assert "The next, 'off', is behind by " in clear
    assert "cannot be told" not in clear


def test_other_limits_are_told_drawn_and_counted(plans):
    two = {name: plans[name] for name in ("usual", "marks 10 deg off")}
    chart = charts.plans_chart(two, decentration=None, tilt=3.0, refraction=0.5)
    share = plans["usual"].share(None, 3.0, 0.5)
    assert "keeps most lenses within 3 deg and 0.5 D: " in chart.sentence
    assert f"'usual': {100.0 * share.value:.1f} % (95 % interval" in chart.sentence
    dashed = [line for axes in chart.figure.axes[2:] for line in axes.lines if line.get_color() == draw.palette.LIMIT]
    assert [line.get_xdata()[0] for line in dashed] == [3.0, -0.5, 0.5]


def test_without_a_refraction_that_was_meant_none_is_drawn():
    never, nearly = (operated(AIM.but(outside=out), AIM.opposite(outside=out), n=64) for out in (5.0, 1.7))
    assert 0 < nearly.settled_share.value < 1.0
    with pytest.raises(es.LearnerError, match="no refraction to compare"):
        _ = nearly.surprise
    chart = charts.plans_chart({"never": never, "at times": nearly})
    assert len(chart.figure.axes) == 5
    assert "surprise" not in chart.sentence


def test_names_keep_off_each_other_and_inside_the_picture(plans):
    from matplotlib.text import Text

    long = {f"{i}. a plan with quite a long name, told in many words": one for i, one in enumerate(plans.values())}
    six = long | {"$5_{$\n": plans["usual"], "6": plans["steeper"]}
    figure = charts.plans_chart(six).figure
    figure.draw_without_rendering()
    ticks = figure.axes[0].get_yticklabels()
    boxes = [Text.get_window_extent(tick) for tick in ticks]
    assert len(boxes) == 6
    assert ticks[4].get_text() == "$5_{$"
    for i, box in enumerate(boxes):
        assert box.x0 >= 0.0
        assert not any(box.overlaps(other) for other in boxes[i + 1 :])
    for axes in figure.axes:
        assert Text.get_window_extent(axes._left_title).x1 <= figure.bbox.width
    assert (
        len({(line.get_color(), line.get_marker()) for line in figure.axes[0].lines if line.get_marker() != "None"})
        == 6
    )


@pytest.mark.parametrize(("change", "words"), [
    (lambda p: {"usual": p["usual"]}, "two to 6 plans by name.* 1 were given"), (lambda p: {}, "two to 6"),
    (lambda p: [p["usual"], p["steeper"]], "a list was given"), (lambda p: None, "a NoneType was given"),
    (lambda p: {str(i): p["usual"] for i in range(7)}, "7 were given"),
    (lambda p: p | {"mine": "steep"}, "'mine' is a str"), (lambda p: p | {3: p["usual"]}, "a name|name is a word"),
    (lambda p: p | {" ": p["usual"]}, "name is a word or two"),
    (lambda p: p | {"few": operated(n=50)}, "'usual' and 'few': Only outcomes on the same draws.*n is 600.*50"),
    (lambda p: p | {"luck": operated(rng=6)}, "'usual' and 'luck': .*seed"),
    (lambda p: p | {"sobol": operated(draws="sobol")}, "'usual' and 'sobol': .*draws"),
    (lambda p: dict.fromkeys("ab", p["no haptic left"]), "with none of these plans a lens settled"),
])  # fmt: skip
def test_what_cannot_be_compared_is_said_in_words(plans, change, words):
    with pytest.raises(es.LearnerError, match=words):
        charts.plans_chart(change(plans))


def test_a_wrong_limit_or_a_wrong_name_is_said_in_words(plans):
    for given, words in (
        ({"tilt": -1.0}, "tilt"),
        ({"refraction": "half"}, "refraction"),
        ({"til": 3}, "Did you mean"),
    ):
        with pytest.raises(es.LearnerError, match=words):
            charts.plans_chart(plans, **given)
