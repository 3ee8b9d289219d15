"""Samples of low discrepancy, and the shares of inputs in the variance of a result."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def paired_samples(count: int, inputs: int, seed: int) -> tuple[Array, Array]:
    """Two independent samples of `count` points (a power of two) in the unit cube of the inputs, (count, inputs) each.

    Scrambled Sobol' points in twice as many dimensions, the first half for one sample and the second for the other; the
    same for the same seed. Source: Sobol' (1967), Owen (1998), scipy.stats.qmc.
    """
    from scipy.stats import qmc  # here, because it is slow to import and seldom needed

    points = qmc.Sobol(2 * inputs, scramble=True, rng=seed).random_base2(int(np.log2(count)))
    points = np.clip(points, 1e-12, 1.0 - 1e-12)  # a normal band has no value at 0 and 1
    return points[:, :inputs], points[:, inputs:]


@dataclass(frozen=True, eq=False)
class VarianceShares:
    """Shares of each input (I) in the variance of each result (Q), (Q, I): by itself, and with its interactions."""

    first: Array
    total: Array


def variance_shares(of_a: Array, of_b: Array, of_ab: Array) -> VarianceShares:
    """Shares of I inputs in the variance of Q results.

    of_a and of_b (Q, N): results of two independent samples. of_ab (I, Q, N): results of the first sample with input i
    of the second. First order: Saltelli and others (2010), mean of f(B)(f(AB) - f(A)) over the variance. Total: Jansen
    (1999), half the mean of (f(A) - f(AB))² over the variance. Results are counted from their mean, which reduces the
    error of the first order. NaN where a result does not vary.
    """
    both = np.concatenate([of_a, of_b], axis=1)
    middle, variance = both.mean(axis=1), both.var(axis=1)
    scale = np.where(variance > 0.0, variance, np.nan)[None, :]
    moved = of_ab - of_a[None]
    first = ((of_b - middle[:, None])[None] * moved).mean(axis=2) / scale
    total = 0.5 * (moved * moved).mean(axis=2) / scale
    return VarianceShares(first.T, total.T)
