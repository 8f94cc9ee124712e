"""A needle that is pushed sideways at its tip: the witness for how far needles bend in the table of hands."""

from __future__ import annotations

import numpy as np

from eyesim.eye.sources import fact


def needle_deflection(outer, bore, free_length, load):
    """Slope [deg] at the tip of a tube (diameters and length [mm]) under a load [mN] there; everything broadcasts.

    A straight elastic tube held at its hub (Euler-Bernoulli): slope = F L^2 / (2 E I) with
    I = pi (outer^4 - bore^4) / 64. E of steel from memory. Small slopes only; a needle that was bent beforehand, or is
    held by the wall along its length, bends otherwise.
    """
    inertia = np.pi * (outer**4 - bore**4) / 64.0
    modulus = 1e6 * fact("hands", "steel_modulus").value  # mN/mm^2
    return np.degrees(np.asarray(load) * free_length**2 / (2.0 * modulus * inertia))
