"""Pictures with words: the eye from in front and from the side, charts of many operations, panels with sliders.

Panels with sliders and questions need a notebook: `from eyesim.show import panels`, `from eyesim.show.ask import ask`.
"""

from .charts import cloud, histograms, tilt_rose
from .lines import series, sweep
from .picture import Chart, Picture
from .side import both_views, side_view
from .surgeon import surgeon_view

__all__ = [
    "Chart", "Picture", "both_views", "cloud", "histograms", "series", "side_view", "surgeon_view", "sweep",
    "tilt_rose",
]  # fmt: skip
