"""How many eyes are refracted in a second, and how that compares with general-purpose optics packages.

Run: python tests/benchmarks/sight_speed.py

Refracts 40,000 poses, each different, from rays through cornea and optic to sphere, cylinder and 28 Zernike
coefficients (91 rays an eye), and single eyes by packages of optical design with their own wavefront and Zernike
functions, in one run. Two packages, because the choice decides the ratio: batoid, compiled and lean, made for
telescopes, which the tests use as a witness; and optiland, for general lens design, if it is installed (it brings
more than a gigabyte, so it is no dependency). Its reference sphere is another one, hence the larger difference. Prints
eyes per second, ratios, the largest difference of coefficients, and what a slider and a letter chart take.
"""

from __future__ import annotations

import importlib.util
import sys
import time
import warnings
from pathlib import Path

import batoid
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
import optics_peer

import eyesim as es

EYE, LENS = es.Eye(), es.Lens()
SHARP = EYE.limbal_depth - 5.3
WAVE = 555e-6
"""Wavelength [mm]; the packages give wavefronts in waves."""
OSA_OF_OTHER = [0, 2, 1, 4, 3, 5, 7, 8, 6, 9, 12, 13, 11, 14, 10, 18, 17, 19, 16, 20, 15, 24, 23, 25, 22, 26, 21, 27]
"""OSA index of each polynomial in the order of the first package."""


def main(n=40_000, few=40):
    """Print the figures."""
    rng = np.random.default_rng(1)
    poses = es.Pose(
        x=rng.normal(0, 0.3, n), y=rng.normal(0, 0.3, n), z=SHARP + rng.normal(0, 0.2, n),
        tilt=np.abs(rng.normal(0, 5, n)), tilt_meridian=np.where(rng.random(n) < 0.5, 90.0, 270.0),
    )  # fmt: skip
    eyes = EYE.but(corneal_radius=rng.normal(7.7, 0.2, n), axial_length=rng.normal(23.5, 1.0, n))
    sight = es.refract(EYE, LENS, poses)  # compile, warm up
    ours = n / best(lambda: es.refract(EYE, LENS, poses))
    print(f"eyesim, poses differ      {ours:10,.0f} eyes a second ({n:,}, best of 5)")
    print(f"eyesim, eyes differ too   {n / best(lambda: es.refract(eyes, LENS, poses)):10,.0f} eyes a second")
    for reason, count in zip(*np.unique(sight.reason, return_counts=True), strict=True):
        print(f"  {reason or 'seen'}: {count / n:.3%}")

    for name, build, look in packages():
        cases = [one(poses, k) for k in range(few)]
        made = [build(pose) for pose in cases]
        found = np.array([look(eye) for eye in made])  # warm up, and compare
        alone = few / best(lambda made=made, look=look: [look(eye) for eye in made], 3)
        whole = few / best(lambda cases=cases, b=build, look=look: [look(b(pose)) for pose in cases], 3)
        miss = np.abs(found - sight.zernike[:few])[:, 3:].max()
        print(
            f"{name:25s} {alone:10,.0f} eyes a second: ratio {ours / alone:,.0f}; with building the eye {whole:,.0f}: "
            f"ratio {ours / whole:,.0f}; largest difference {miss:.1e} um"
        )
    slider()


def packages():
    """Give name, how to build an eye with a lens at a pose, and how to get its coefficients in OSA order [um]."""

    def lean(eye):
        other = batoid.zernikeGQ(eye, 0.0, 0.0, WAVE, rings=6, spokes=15, jmax=28)[1:]
        osa = np.empty(28)
        osa[OSA_OF_OTHER] = other * WAVE * 1e3
        return osa

    yield "batoid", lambda pose: optics_peer.of(EYE, LENS, pose).whole(3.0), lean
    if importlib.util.find_spec("optiland"):
        from optiland.wavefront import ZernikeOPD

        warnings.simplefilter("ignore")  # it warns of each tilted surface

        def general(eye):
            fit = ZernikeOPD(eye, (0, 0), WAVE * 1e3, num_rings=5, zernike_type="standard", num_terms=28)
            return np.asarray(fit.coeffs) * WAVE * 1e3

        yield "optiland", lens_design, general
    else:
        print("optiland is not installed: pip install optiland")


def lens_design(pose):
    """Build an eye in optiland; its z runs with the light. The lens is tilted about the horizontal."""
    import optiland.backend as be
    from optiland.materials import IdealMaterial
    from optiland.optic import Optic

    tilt = np.radians(pose.tilt) * (1.0 if pose.tilt_meridian == 90.0 else -1.0)
    depth, half = EYE.limbal_depth - pose.z, LENS.optic_thickness / 2.0
    behind, up = half * np.cos(tilt), half * np.sin(tilt)
    optic = Optic()
    add = optic.surfaces.add
    add(index=0, radius=be.inf, thickness=be.inf)
    add(index=1, radius=be.inf, thickness=1.0, is_stop=True)
    add(
        index=2, radius=EYE.corneal_radius, conic=EYE.corneal_q, thickness=EYE.corneal_thickness,
        material=IdealMaterial(EYE.n_cornea),
    )  # fmt: skip
    add(
        index=3, radius=EYE.posterior_corneal_radius, conic=EYE.posterior_corneal_q,
        thickness=depth - behind - EYE.corneal_thickness, material=IdealMaterial(EYE.n_aqueous),
    )  # fmt: skip
    add(
        index=4, radius=LENS.anterior_radius, thickness=2.0 * behind, material=IdealMaterial(LENS.index),
        dx=pose.x, dy=pose.y + up, rx=tilt,
    )  # fmt: skip
    water = IdealMaterial(EYE.n_vitreous)  # behind the retina too, or the wavefront would be counted in air
    add(
        index=5, radius=LENS.posterior_radius, thickness=EYE.axial_length - depth - behind, material=water,
        dx=pose.x, dy=pose.y - up, rx=tilt,
    )  # fmt: skip
    add(index=6, radius=-EYE.retina_radius, material=water)
    optic.set_aperture(aperture_type="EPD", value=3.0)
    optic.fields.set_type(field_type="angle")
    optic.fields.add(y=0)
    optic.wavelengths.add(value=WAVE * 1e3, is_primary=True)
    return optic


def slider():
    """Print what one move of a slider takes: refraction, and the chart of letters."""
    from eyesim.draw.letters import letter_chart

    pose = es.Pose(x=0.3, z=SHARP + 0.3, tilt=6.0, tilt_meridian=40.0)
    print(f"one refract               {1e3 * best(lambda: es.refract(EYE, LENS, pose), 50):10.2f} ms")
    sight = es.refract(EYE, LENS, pose)
    letter_chart(sight)
    print(f"letter chart, both sides  {1e3 * best(lambda: letter_chart(sight), 5):10.0f} ms")


def best(work, times=5):
    """Shortest time [s] of several."""
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        spent.append(time.perf_counter() - start)
    return min(spent)


def one(poses, k):
    """Take a single pose out of many."""
    names = ("x", "y", "z", "tilt", "tilt_meridian", "roll")
    values = {name: np.broadcast_to(getattr(poses, name), poses.shape)[k] for name in names}
    return es.Pose(**{name: float(value) for name, value in values.items()})


if __name__ == "__main__":
    main()
