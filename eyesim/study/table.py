"""Table of many operations, one row a case, each column with its unit."""

from __future__ import annotations

import dataclasses

import numpy as np

from ..hold.rest import REASONS
from .vision import UNITS

_PASS = (
    "meridian", "limbus_distance", "limbus_angle", "iris_angle", "tunnel_length", "outside", "exit_angle",
    "exit_swing", "wall",
)  # fmt: skip
_LIES = ("x", "y", "z", "decentration", "decentration_meridian", "depth", "tilt", "tilt_meridian", "roll")


def table_of(outcomes, sight):
    """Table (pandas) of outcomes; `sight` holds the columns of what is seen, by name."""
    import pandas as pd

    pose = outcomes.pose
    table = {name: getattr(pose, name) for name in _LIES}
    table |= {"tension": pose.tension[:, 0], "settled": pose.settled}
    table["reason"] = pd.Categorical.from_codes(pose.code.astype(int), list(REASONS))
    table |= sight
    for side, one in (("first", outcomes.first), ("second", outcomes.second)):
        for name in _PASS:
            value = getattr(one, name)
            table[f"{side}_{name}"] = np.nan if value is None else value
    varied = {f"eye_{f.name}": f for f in dataclasses.fields(outcomes.eye)}
    varied = {name: f for name, f in varied.items() if isinstance(getattr(outcomes.eye, f.name), np.ndarray)}
    table |= {name: getattr(outcomes.eye, f.name) for name, f in varied.items()}
    frame = pd.DataFrame(table, index=pd.RangeIndex(outcomes.n, name="case"))
    own = {name: f.metadata["unit"] for name, f in varied.items()}
    frame.attrs["units"] = {name: own[name] if name in own else _unit(name) for name in frame.columns}
    return frame


def _unit(column):
    if column in UNITS:
        return UNITS[column]
    last = column.rpartition("_")[2]
    if last in ("meridian", "tilt", "roll", "angle", "swing", "axis"):
        return "deg"
    if last in ("settled", "seen", "reason"):
        return ""
    return "mN" if column == "tension" else "mm"
