"""The limits within which a lens is said to sit well, in one place; all are chosen for teaching."""

DECENTRATION_LIMIT = 0.4
"""[mm] Chosen for teaching: about what an aspheric lens tolerates at a 6 mm pupil (J Cataract Refract Surg 2015,
DOI 10.1016/j.jcrs.2014.12.048). A programme may set its own."""

TILT_LIMIT = 5.0
"""[deg] Chosen for teaching. Five degrees of a usual lens bring about 0.1 D of cylinder (J Cataract Refract
Surg 2018, DOI 10.1016/j.jcrs.2018.04.035); a programme may set its own."""

REFRACTION_LIMITS = (0.5, 1.0)
"""[D] Of the refraction surprise, either way. Chosen for teaching: the two limits within which series of lens surgery
count their eyes, by common practice."""

CYLINDER_LIMIT = 0.5
"""[D] Of the cylinder that is left. Chosen for teaching: about the least that is prescribed, by common practice."""

PUPIL = 3.0
"""[mm] Diameter of the beam at the cornea at which an eye is refracted. Chosen for teaching: a pupil in room light."""
