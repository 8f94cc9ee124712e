"""Room for the results of many operations, filled in chunk by chunk."""

from __future__ import annotations

import dataclasses

import numpy as np

from ..hold.needle import needle_pass
from ..hold.rest import REASONS, Settled

_POSE = ("x", "y", "z", "tilt", "tilt_meridian", "roll", "residual")


class Store:
    """Room for n cases, filled in chunk by chunk; holds only what the outcomes need."""

    def __init__(self, n):
        self.n, self.limited = n, {}
        self.pose = {name: np.empty(n) for name in _POSE}
        self.tension, self.free_length = np.empty(n), np.empty((n, 2))
        self.code = np.empty(n, np.int8)
        self.eye, self.passes = None, ({}, {})

    def put(self, where, eyes, achieved, pose, limited):
        """Take in one chunk.

        Parameters
        ----------
        where : slice
        eyes : Eye
        achieved : two Fixation
            As they came out.
        pose : Settled
        limited : dict
            How many values were held at the end of their range, by name.
        """
        for name in _POSE:
            self.pose[name][where] = getattr(pose, name)
        self.tension[where] = np.asarray(pose.tension)[..., 0]
        self.free_length[where] = pose.free_length
        self.code[where] = pose.code
        self.eye = self._parts(self.eye, eyes, where)
        self.passes = tuple(
            self._parts(kept or None, one, where) for kept, one in zip(self.passes, achieved, strict=True)
        )
        for name, count in limited.items():
            self.limited[name] = self.limited.get(name, 0) + count

    def _parts(self, kept, new, where):
        varied = {f.name: getattr(new, f.name) for f in dataclasses.fields(new)}
        varied = {name: value for name, value in varied.items() if isinstance(value, np.ndarray)}
        if kept is None:
            kept = (new, {name: np.empty(self.n) for name in varied})
        for name, value in varied.items():
            kept[1][name][where] = value
        return kept


class StoredPose(Settled):
    """Poses of many cases; reasons and passages are worked out when they are asked for."""

    def __init__(self, store, eye, lens, achieved):
        first, second = achieved
        values = store.pose | {"code": store.code, "settled": store.code == 0, "free_length": store.free_length}
        values |= {"tension": np.stack([store.tension] * 2, axis=-1)}
        values |= {"eye": eye, "lens": lens, "first": first, "second": second}
        for name, value in values.items():
            if isinstance(value, np.ndarray):
                value.setflags(write=False)
            object.__setattr__(self, name, value)

    @property
    def reason(self):
        """Why a case did not settle; "" where it did."""
        return np.array(REASONS)[self.code]

    @property
    def passages(self):
        """Both needles' ways through the wall."""
        return needle_pass(self.eye, self.first), needle_pass(self.eye, self.second)
