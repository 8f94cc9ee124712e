"""Which lens the eyes got and which refraction was meant, in words that a surgeon reads once."""

from __future__ import annotations

import numpy as np

from ..sight.refraction import in_words, signed


def lens_in_words(vision):
    """Say which lens the eyes got, and what it leaves them where the plan puts it.

    Parameters
    ----------
    vision : Vision

    Returns
    -------
    str
        One or more sentences.
    """
    if vision.chosen is not None:
        return _chosen(vision)
    power = f"{vision.powers:.2f} D"
    if vision.power == "each":
        return f"Power of the lens: {power} as given; without a place no other could be chosen."
    left = np.atleast_1d(vision.left_as_planned)
    left = left[np.isfinite(left)]
    if not vision.many:
        if vision.target is None or not left.size:
            return f"Power of the lens: {power}."
        return f"Power of the lens: {power}; where the plan puts it, it leaves {signed(float(left[0]))} D."
    words = f"Power of the lens: {power}, the same in all eyes."
    if not left.size:
        return words
    words += f" What it leaves where the plan puts it in their mean eye: {_mean_and_spread(left)}."
    if vision.target is not None and _owed_to_eyes(vision, left):
        words += " So the spread about the target is mostly that of the eyes, of their lengths above all, not of hands."
    return words


def _chosen(vision):
    chosen, aim = vision.chosen, signed(vision.aim)
    if not vision.many:
        words = f"Power of the lens, chosen to leave this eye at {aim} D were the lens where the plan puts it: "
        words += f"{vision.powers:.2f} D."
    else:
        words = (
            f"Power of the lens, chosen for each eye to leave it at {aim} D were the lens where the plan puts it in "
            f"the mean eye: {_mean_and_spread(vision.powers, '.2f')}"
        )
        several = len(vision.powers) > 1
        words += f", from {vision.powers.min():.2f} to {vision.powers.max():.2f} D." if several else "."
    if chosen.held:
        words += f" Held at the end of what can be made: {chosen.held}; what such a lens leaves counts as meant."
    if chosen.blind:
        words += (
            f" Seeing nothing with the lens in that place: {chosen.blind}; these keep {vision.pose.lens.power:.2f} D "
            "and have no refraction surprise."
        )
    return words


def _mean_and_spread(values, form=None):
    mean = f"{values.mean():{form}}" if form else signed(float(values.mean()))
    return f"mean {mean} D, SD {values.std(ddof=1):.2f} D" if len(values) > 1 else f"{mean} D"  # one eye has no spread


def _owed_to_eyes(vision, left):
    """Whether most of the variance of what is left was there before any hand moved."""
    got = vision.sight.M[np.isfinite(vision.sight.M)]
    return len(got) > 1 and len(left) > 1 and np.var(left) > 0.5 * np.var(got)


def meant_in_words(vision):
    """Say which refraction was meant."""
    if vision.power == "each":
        whose = "each eye" if vision.many else "the eye"
        return f"a spherical equivalent of {signed(vision.aim)} D, which that lens would leave {whose} there"
    if vision.target is not None:
        return f"a spherical equivalent of {signed(vision.target)} D"
    if vision.many:
        return "what this lens leaves each eye where the plan puts it in their mean eye"
    return f"what this lens leaves where the plan puts it, {in_words(vision.as_planned)}"


def cylinder_in_words(vision):
    """Whose cylinder it is: the lens's alone, where cornea and lens are round and the eye looks along its axis."""
    eye = vision.pose.eye
    others = (eye.corneal_cylinder, eye.sight_x, eye.sight_y, vision.pose.lens.toric_cylinder)
    return "cylinder left" if any(np.any(other) for other in others) else "cylinder from the lens"
