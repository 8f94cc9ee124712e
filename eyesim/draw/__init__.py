"""Drawings with words: the eye from in front and cut open, the letter chart, and the kit they are drawn with."""

from .letters import letter_chart, spread_picture
from .picture import Chart, Picture
from .pupil_view import pupil_picture
from .views import both_views, front_view, side_view
