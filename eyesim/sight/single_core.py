"""Small products of matrices on one core: two cores spend longer on waiting for each other than on the work."""

from __future__ import annotations

import contextlib
import functools


def alone(function):
    """Decorate a function so that the matrix products in it use one core.

    An image of the retina takes a dozen products of some hundred rows. On a machine that is busy elsewhere, as a
    laptop with a browser is, sharing each between cores makes it five times as slow.
    """

    @functools.wraps(function)
    def done_alone(*args, **kwargs):
        with _one_core():
            return function(*args, **kwargs)

    return done_alone


def _one_core():
    libraries = _libraries()
    return contextlib.nullcontext() if libraries is None else libraries.limit(limits=1, user_api="blas")


@functools.lru_cache
def _libraries():
    from threadpoolctl import ThreadpoolController

    found = ThreadpoolController()
    return found if found.lib_controllers else None
