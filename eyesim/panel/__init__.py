"""Panels in a notebook: questions, sliders beside the eye, forms, and the live session.

What cannot be is said here in a learner's words: see `machine.plain_errors`.
"""

from ..machine.plain_errors import speak_plainly
from .answer import answer_panel, hand_in_panel
from .hand import hand_panel
from .live.panel import live_panel
from .log import log_panel
from .passes import marks_panel, needle_panel, tunnel_panel
from .photo import demonstration_photo, demonstration_section, photo_panel
from .question import ask
from .sight import sight_panel

speak_plainly()
