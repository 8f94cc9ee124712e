"""The demonstration's biometry table, `demo_clinic.csv`; no eye in it is real.

The recipe: eyes of the published population, one number a column from `numpy.random.default_rng(seed)`, rounded as
instruments print; ages uniform from 48 to 93 years, sides by the toss of a coin.
"""

from __future__ import annotations

import numpy as np

from eyesim.study.population import PUBLISHED, Population


def invent_clinic(n=240, seed=20):
    """Text of `demo_clinic.csv`: so many eyes, by the seed of the draw."""
    population = Population()
    generator = np.random.default_rng(seed)
    uniform = np.clip(generator.random((n, len(population.columns))), 1e-6, 1.0 - 1e-6)
    more = generator.random((n, 2))
    eyes = population.draw(uniform)
    digits = {"corneal_thickness": 3, "scleral_thickness": 2}
    names = [name for name in PUBLISHED if name != "scleral_radius"]  # a clinic does not measure it
    lines = [
        "# Invented: the ferry clinic, a practice in a harbour town that does not exist. No eye is real.",
        "# Recipe: tests/demo_clinic.py in the project. Millimetres, years.",
        ",".join(("eye", "side", "age", *names)),
    ]
    for i in range(n):
        cells = [f"{getattr(eyes, name)[i]:.{digits.get(name, 2)}f}" for name in names]
        side, age = ("right", "left")[int(more[i, 0] * 2)], 48 + int(more[i, 1] * 46)
        lines.append(",".join((f"F{i + 1:03d}", side, str(age), *cells)))
    return "\n".join(lines) + "\n"
