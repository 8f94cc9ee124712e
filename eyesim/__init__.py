"""eyesim: a lens fixed to the wall of the eye by its two haptics, and where it comes to rest.

For teaching with practice eyes. No medical device; never plan care with it.
"""

from .eye import (
    Eye,
    LearnerError,
    Lens,
    clock_to_meridian,
    meridian_to_clock,
    meridian_to_side,
    side_to_meridian,
)
from .hold import Fixation, Passage, Pose, Settled, haptic_curves, least_dip_that_enters, needle_pass, settle
from .sight import (
    Acuity,
    PointSpread,
    Refraction,
    SchematicEye,
    Sight,
    acuity,
    best_spectacles,
    point_spread,
    power_for,
    refract,
    schematic_eye,
    toric_for,
)
from .study import Error, Hands, Population, operate
from .text.caution import CAUTION

__version__ = "0.1.0"

__all__ = [
    "Acuity", "CAUTION", "Error", "Eye", "Fixation", "Hands", "LearnerError", "Lens", "Passage", "PointSpread",
    "Population", "Pose", "Refraction", "SchematicEye", "Settled", "Sight", "acuity", "best_spectacles",
    "clock_to_meridian", "haptic_curves", "least_dip_that_enters", "meridian_to_clock", "meridian_to_side",
    "needle_pass", "operate", "point_spread", "power_for", "refract", "schematic_eye", "settle", "side_to_meridian",
    "toric_for",
]  # fmt: skip
