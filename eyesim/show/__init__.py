"""Pictures with words: the eye from in front and from the side, charts of many operations, panels with sliders.

Panels with sliders and questions need a notebook: `from eyesim.show import panels`, `from eyesim.show.ask import ask`.
"""

from .blame_chart import blame_chart, causes_chart, gain_chart, trade_off
from .charts import cloud, histograms, tilt_rose
from .letter_chart import letter_chart, spread_picture
from .lines import series, sweep
from .picture import Chart, Picture
from .plain_errors import speak_plainly
from .plans_chart import plans_chart
from .practice_chart import curve_chart, doubt_chart, miss_chart
from .pupil_view import pupil_picture
from .side import both_views, side_view
from .steps_chart import steps_chart
from .surgeon import surgeon_view
from .surprise import refractions

speak_plainly()

__all__ = [
    "Chart", "Picture", "blame_chart", "both_views", "causes_chart", "cloud", "curve_chart", "doubt_chart",
    "gain_chart", "histograms", "letter_chart", "miss_chart", "plans_chart", "pupil_picture", "refractions",
    "series", "side_view", "spread_picture", "steps_chart", "surgeon_view", "sweep", "tilt_rose", "trade_off",
]  # fmt: skip
