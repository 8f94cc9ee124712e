"""What holds the lens: the needle's pass, the elastic haptics, and where the lens comes to rest."""

from .needle import Fixation, Passage, least_dip_that_enters, needle_pass
from .pose import Pose
from .rest import REASONS, Settled, haptic_curves
from .settle import settle
