"""Charts say in a sentence what they draw, count every case, and draw in threads."""

import re
import threading
from types import SimpleNamespace

import numpy as np
import pytest

import eyesim as es
from eyesim import chart as charts
from eyesim.draw.drawing import CAUTION

EYE, LENS, FIRST = es.Eye(), es.Lens(), es.Fixation()


def outcomes(n=300, seed=1, spread=4.0, fail=0, side="right"):
    """Return a stand-in with what charts use: poses of marks and dips that vary."""
    rng = np.random.default_rng(seed)
    outside = np.full(n, 0.8)
    outside[:fail] = 4.5  # too short a haptic
    second = FIRST.opposite(
        meridian=180.0 + rng.normal(0.0, spread, n),
        iris_angle=8.0 + rng.normal(0.0, spread, n),
        outside=outside,
    )
    eye = EYE.but(side=side)
    pose = es.settle(eye, LENS, FIRST, second, on_failure="flag")
    return SimpleNamespace(pose=pose, n=n, eye=eye, lens=LENS, draws="random")


@pytest.fixture(scope="module")
def cases():
    return outcomes(fail=12)


def row(**fields):
    base = {"quantity": "tilt", "label": "Series", "unit": "deg", "mean": 4.0, "spread": 2.0, "n": 20}
    return SimpleNamespace(**{**base, "interval": None, "weak": False, **fields})


ROWS = [
    row(interval=SimpleNamespace(low=3.8, high=4.3)),
    row(weak=True, spread=None),
    row(quantity="decentration", unit="mm"),
]


def every(cases):
    return [
        charts.cloud(cases), charts.cloud(cases, compare=outcomes(seed=2)),
        charts.tilt_rose(cases), charts.histograms(cases), charts.series(ROWS),
        charts.sweep([0, 1, 2], [[1, 2, 3], [3, np.nan, 1]], "x", "y", ["up", "down"], mark=(1.0, "here")),
    ]  # fmt: skip


@pytest.mark.slow
def test_every_chart_is_an_image_with_its_sentence(cases):
    for chart in every(cases):
        assert chart.png.startswith(b"\x89PNG")
        assert len(chart.png) > 8_000
        assert repr(chart) == chart.sentence == chart._repr_mimebundle_()["text/plain"]
        assert re.search(r'<img src="data:image/png;base64,[^"]+" alt="[^"]{40,}"', chart.html)
        assert "nan" not in chart.sentence.lower()
        drawn = [text.get_text() for text in chart.figure.findobj(lambda a: hasattr(a, "get_text"))]
        assert CAUTION in drawn


def test_same_input_same_bytes(cases):
    assert charts.cloud(cases).png == charts.cloud(cases).png


def test_cloud_counts_every_case(cases):
    inside = np.sum(cases.pose.settled & (np.nan_to_num(cases.pose.decentration, nan=99.0) < 0.3))
    sentence = charts.cloud(cases, tolerance=0.3).sentence
    assert f"{100 * inside / cases.n:.1f} %" in sentence
    assert "12 did not settle" in sentence
    low, high = (float(v) for v in re.search(r"interval ([\d.]+) to ([\d.]+) %", sentence).groups())
    assert low < 100 * inside / cases.n < high


def test_cloud_draws_the_centres_where_they_lie(cases):
    axes = charts.cloud(cases).figure.axes[0]
    drawn = np.asarray(axes.collections[0].get_offsets())
    settled = cases.pose.settled
    np.testing.assert_allclose(drawn, np.stack([cases.pose.x, cases.pose.y], axis=-1)[settled])
    assert axes.get_aspect() == 1.0
    assert axes.get_xlabel().endswith("nasal")
    assert charts.cloud(outcomes(side="left")).figure.axes[0].get_xlabel().endswith("temporal")


def test_compared_clouds_share_their_scale(cases):
    one, two = charts.cloud(cases, compare=outcomes(seed=3, spread=9.0)).figure.axes
    assert one.get_xlim() == two.get_xlim()
    assert one.get_ylim() == two.get_ylim()


def test_rose_holds_every_settled_case(cases):
    chart = charts.tilt_rose(cases)
    total = sum(bar.get_height() for bar in chart.figure.axes[0].patches)
    assert total == pytest.approx(100.0 * np.mean(cases.pose.settled))
    assert len({bar.get_hatch() for bar in chart.figure.axes[0].patches}) == 4  # told apart without colour


def test_rose_points_where_the_optic_leans():
    steep = outcomes(spread=0.5)
    tallest = max(charts.tilt_rose(steep).figure.axes[0].patches, key=lambda bar: bar.get_height())
    middle = np.degrees(tallest.get_x() + tallest.get_width() / 2.0)
    typical = np.median(steep.pose.tilt_meridian)
    assert abs((middle - typical + 180.0) % 360.0 - 180.0) <= 15.0


def test_histogram_limits(cases):
    chart = charts.histograms(cases, limits={"tilt": 2.0, "depth": (1.4, 1.6)})
    inside = np.mean(cases.pose.settled & (cases.pose.tilt < 2.0))
    assert f"{100 * inside:.1f} %" in chart.sentence
    assert "from 1.4 to 1.6 mm" in chart.sentence
    with pytest.raises(es.LearnerError, match="a limit is set for"):
        charts.histograms(cases, limits={"haze": 1.0})
    with pytest.raises(es.LearnerError, match="from low to high"):
        charts.histograms(cases, limits={"depth": (2.0, 1.0)})


@pytest.mark.slow
def test_identical_cases_can_be_drawn():
    same = outcomes(spread=0.0)
    for draw in (charts.cloud, charts.tilt_rose, charts.histograms):
        assert draw(same).png


def test_sweep_says_its_ends_and_gaps():
    chart = charts.sweep([0.0, 1.0, 2.0, 3.0], [np.nan, 2.0, np.nan, 4.0], "dip [deg]", "tilt [deg]", "one")
    assert chart.sentence == "tilt [deg] against dip [deg]: one: 2 at 1 to 4 at 3 (2 of 4 without a value)."
    styles = {line.get_linestyle() for line in charts.sweep([0, 1], [[0, 1], [1, 0]], "", "").figure.axes[0].lines}
    assert {"-", "--"} <= styles
    assert charts.sweep([0, 1], [0, 1], "x", "y", sentence="Said otherwise.").sentence == "Said otherwise."


@pytest.mark.parametrize(("x", "ys", "labels", "words"), [
    ([0, 1], [[1, 2, 3]], None, "as many values"), ([0, 1], [[np.nan, np.nan]], None, "at least one value"),
    ([0, 1], [[0, 1]] * 6, None, "told apart"), ([0, 1], [[0, 1]], ["a", "b"], "one label a line"),
    ("ab", [[0, 1]], None, "list of numbers"),
])  # fmt: skip
def test_sweep_speaks_to_the_learner(x, ys, labels, words):
    with pytest.raises(es.LearnerError, match=words):
        charts.sweep(x, ys, "x", "y", labels)


def test_series_draws_each_row_where_its_mean_is():
    figure = charts.series(ROWS).figure
    assert len(figure.axes) == 2
    means = [line.get_xdata()[0] for line in figure.axes[0].lines if len(line.get_xdata()) == 1]
    assert means == [4.0, 4.0]
    with pytest.raises(es.LearnerError, match="at least one row"):
        charts.series([])


def test_what_is_no_outcome_is_refused():
    nothing = outcomes(n=30, fail=30)
    for draw in (charts.cloud, charts.tilt_rose, charts.histograms):
        with pytest.raises(es.LearnerError, match=r"es\.operate"):
            draw("many")
        with pytest.raises(es.LearnerError, match="none of the 30 operations settled"):
            draw(nothing)


def test_charts_are_saved(cases, tmp_path):
    chart = charts.cloud(cases)
    assert chart.save(tmp_path / "c.png").read_bytes() == chart.png
    assert b"<svg" in chart.save(tmp_path / "c.svg").read_bytes()
    assert chart.save(tmp_path / "c.pdf").read_bytes().startswith(b"%PDF")
    assert b"alt=" in chart.save(tmp_path / "c.html").read_bytes()
    with pytest.raises(es.LearnerError, match="saved as"):
        chart.save(tmp_path / "c.gif")


@pytest.mark.slow
def test_charts_draw_in_threads(cases):
    wanted, got = charts.histograms(cases).png, []
    threads = [threading.Thread(target=lambda: got.append(charts.histograms(cases).png)) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert got == [wanted] * 3


@pytest.mark.slow
def test_operations_of_the_study_room_are_drawn():
    done = es.operate(EYE, LENS, FIRST, FIRST.opposite(), es.Hands(), n=256, rng=1)
    share = done.share(decentration=0.4, tilt=None)
    assert f"{100 * share.value:.1f} % (95 % interval {100 * share.low:.1f} to" in charts.cloud(done).sentence
    assert charts.tilt_rose(done).png
    assert charts.histograms(done).png


def test_colours_of_lines_are_never_alone():
    from eyesim.draw import palette

    assert len(set(map(str, palette.DASHES))) == len(palette.SERIES) == len(set(palette.MARKERS))
