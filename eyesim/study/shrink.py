"""While data are few, an estimate is drawn towards what is usual: by how much, and how far people differ.

The mean of one person is drawn towards the mean of all (normal means that are normally distributed), the variance
towards the usual variance (scaled inverse chi-square). Statistical Applications in Genetics and Molecular Biology
2004;3: Article 3, Linear models and empirical Bayes methods, has the second.
"""

from __future__ import annotations

import dataclasses

import numpy as np

MOST = 1000.0
"""Weight of a prior where people do not seem to differ at all [attempts]."""


@dataclasses.dataclass(frozen=True)
class Prior:
    """What is usual before anything of one's own is known.

    Parameters
    ----------
    bias : float
        Mean over people, in the quantity's own unit.
    differ : float
        Standard deviation of people's biases.
    spread : float
        Usual standard deviation of one person's errors.
    weight : float [1]
        Degrees of freedom that the usual variance counts for.
    """

    bias: float
    differ: float
    spread: float
    weight: float


def shrink_mean(mean, error, prior_mean, prior_error):
    """Mean and standard error after a mean with a known error has been drawn towards a prior; all broadcast.

    Parameters
    ----------
    mean, error : float or array [unit]
    prior_mean, prior_error : float or array [unit]
        Mean and standard deviation of the prior.

    Returns
    -------
    mean, error : arrays
    """
    mean, error, prior_error = np.asarray(mean, float), np.asarray(error, float), np.asarray(prior_error, float)
    whole = error**2 + prior_error**2
    own = np.divide(prior_error**2, whole, out=np.ones_like(whole), where=whole > 0.0)  # weight of one's own
    return (prior_mean + own * (mean - prior_mean))[()], np.sqrt(own * error**2)[()]


def shrink_variance(variance, freedom, prior_variance, weight):
    """Variance after it has been drawn towards a prior of so many degrees of freedom; all broadcast.

    Parameters
    ----------
    variance : float or array [unit squared]
    freedom : float or array [1]
        Its degrees of freedom.
    prior_variance, weight : float or array [unit squared], [1]
    """
    freedom = np.asarray(freedom, float)
    return ((weight * prior_variance + freedom * np.asarray(variance, float)) / (weight + freedom))[()]


def _pool_means(means, errors):
    """Mean over people and the variance of their true means, from their means and standard errors.

    The method of moments of Controlled Clinical Trials 1986;7:177-188, Meta-analysis in clinical trials.
    """
    means, errors = np.asarray(means, float), np.asarray(errors, float)
    w = 1.0 / errors**2
    middle = np.sum(w * means) / np.sum(w)
    q = np.sum(w * (means - middle) ** 2)
    variance = max(0.0, (q - (len(means) - 1.0)) / (np.sum(w) - np.sum(w**2) / np.sum(w)))
    w = 1.0 / (errors**2 + variance)
    return float(np.sum(w * means) / np.sum(w)), float(variance)


def _pool_variances(variances, freedoms):
    """Usual variance and its weight in degrees of freedom, from several people's variances.

    Moments of the logarithm of the variances, as in the paper named above, section 6.2. The weight is `MOST`
    where the variances differ no more than chance makes them.
    """
    from scipy.special import digamma, polygamma

    freedoms = np.asarray(freedoms, float)
    half = freedoms / 2.0
    e = np.log(np.asarray(variances, float)) - digamma(half) + np.log(half)
    more = np.var(e, ddof=1) - np.mean(polygamma(1, half))  # spread of the logarithms that chance does not explain
    weight = MOST if more <= polygamma(1, MOST / 2.0) else 2.0 * _trigamma_inverse(more)
    return float(np.exp(np.mean(e) + digamma(weight / 2.0) - np.log(weight / 2.0))), float(weight)


def prior_of(several):
    """Find what is usual from the errors of several people.

    Parameters
    ----------
    several : list of arrays
        Errors of each; those with fewer than two, or without any spread, are left out.

    Returns
    -------
    Prior or None
        None for fewer than three people.
    """
    several = [np.asarray(one, float) for one in several]
    several = [one for one in several if len(one) > 1 and np.ptp(one) > 1e-12]
    if len(several) < 3:
        return None
    freedoms = np.array([len(one) - 1.0 for one in several])
    variances = np.array([one.var(ddof=1) for one in several])
    variance, weight = _pool_variances(variances, freedoms)
    steady = shrink_variance(variances, freedoms, variance, weight)  # few attempts of one's own may agree by chance
    mean, differ = _pool_means([one.mean() for one in several], np.sqrt(steady / (freedoms + 1.0)))
    return Prior(mean, float(np.sqrt(differ)), float(np.sqrt(variance)), weight)


def _trigamma_inverse(y):
    from scipy.optimize import brentq
    from scipy.special import polygamma

    return float(brentq(lambda x: polygamma(1, x) - y, 1e-6, MOST))
