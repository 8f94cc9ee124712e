"""What the patient sees: rays through cornea and optic, the wavefront, glasses, and a chart of letters."""

from .choose import power_for, toric_for
from .refract import refract
from .refraction import Refraction
from .seen import Sight

__all__ = ["Refraction", "Sight", "power_for", "refract", "toric_for"]
