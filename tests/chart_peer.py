"""Run lengths of charts by other ways than ours: by playing them, and as the chains that are published.

They hold for any chart that is a walk; nothing of the package is used but the step of the chart that is played.
"""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr


def simulate(walk, rate, n, runs, rng):
    """Play a chart many times.

    Parameters
    ----------
    walk : Walk
    rate : float [1]
    n : int
        Attempts after which a run is given up.
    runs : int
    rng : numpy Generator

    Returns
    -------
    length : (runs,) int array
        Attempt at which it signalled; n + 1 if it did not.
    signal : (runs,) int array
        +1, -1, or 0 if it did not.
    """
    value, length, signal = np.full(runs, walk.start), np.full(runs, n + 1), np.zeros(runs, int)
    going = np.arange(runs)
    for t in range(1, n + 1):
        value = walk.step(value, rng.random(len(going)) < rate)
        now = walk.signals(value)
        length[going[now != 0]], signal[going[now != 0]] = t, now[now != 0]
        going, value = going[now == 0], value[now == 0]
        if not len(going):
            break
    return length, signal


def chain_mean(passing):
    """Mean number of steps until a Markov chain is absorbed, from each of its passing states.

    Parameters
    ----------
    passing : (k, k) array [1]
        Chances to go from row to column without being absorbed.

    Returns
    -------
    (k,) array
    """
    passing = np.asarray(passing, float)
    return np.linalg.solve(np.eye(len(passing)) - passing, np.ones(len(passing)))


def lattice_chain(up, limit, rate):
    """Return the passing states 0 to limit - 1 of a chart that climbs by whole steps and goes down by one.

    Parameters
    ----------
    up, limit : int
    rate : float [1]

    Returns
    -------
    (limit, limit) array [1]
    """
    chain = np.zeros((limit, limit))
    for value in range(limit):
        chain[value, max(value - 1, 0)] += 1.0 - rate
        if value + up < limit:
            chain[value, value + up] += rate
    return chain


def gaussian_chain(k, h, shift, cells=201):
    """Return the passing states of the chart of a normal quantity, S = max(0, S + x - k) with a signal at h, in cells.

    Biometrika 1972;59:539-549, An approach to the probability distribution of cusum run length: state 0 is the lowest
    cell, of half width.

    Parameters
    ----------
    k, h : float
        In standard deviations.
    shift : float
        Of the mean, in standard deviations.
    cells : int
    """
    width = 2.0 * h / (2 * cells - 1)
    middle = width * np.arange(cells)
    step = middle[None, :] - middle[:, None] + k - shift
    chain = ndtr(step + width / 2.0) - ndtr(step - width / 2.0)
    chain[:, 0] = ndtr(step[:, 0] + width / 2.0)
    return chain
