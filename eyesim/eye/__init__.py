"""What is there before surgery: directions on the eye, the globe, the lens."""

from .checks import LearnerError
from .frames import clock_to_meridian, meridian_to_clock, meridian_to_side, side_to_meridian
from .globe import Eye
from .lens import Lens
