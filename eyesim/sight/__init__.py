"""What the patient sees: rays through cornea and optic, the wavefront, glasses, and a chart of letters."""

from .acuity import Acuity, acuity
from .choose import power_for, toric_for
from .refract import refract
from .refraction import Refraction
from .schematic import SchematicEye, schematic_eye
from .sight import Sight
from .spectacles import best_spectacles
from .spread import PointSpread, point_spread
