"""Pictures with words: the eye from in front and from the side, charts of many operations, panels with sliders.

Panels with sliders and questions need a notebook: `from eyesim.show import panels`, `from eyesim.show.ask import ask`.
"""

from .charts import cloud, histograms, tilt_rose
from .letter_chart import letter_chart, spread_picture
from .lines import series, sweep
from .picture import Chart, Picture
from .plain_errors import speak_plainly
from .pupil_view import pupil_picture
from .side import both_views, side_view
from .surgeon import surgeon_view
from .surprise import refractions

speak_plainly()

__all__ = [
    "Chart", "Picture", "both_views", "cloud", "histograms", "letter_chart", "pupil_picture", "refractions", "series",
    "side_view", "spread_picture", "surgeon_view", "sweep", "tilt_rose",
]  # fmt: skip
