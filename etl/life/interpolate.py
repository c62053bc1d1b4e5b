"""Interpolation on an even ladder with values and derivatives known at its nodes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def third_differences(values: Floats, step: float) -> Floats:
    """Return scaled third derivatives at the nodes of a ladder.

    Parameters
    ----------
    values : ndarray, shape (n, n_nodes, 3)
        Value, first and second derivative at each node.
    step : float
        Distance of the nodes.

    Returns
    -------
    ndarray, shape (n, n_nodes)
        Third derivative times ``step ** 3``.

    Notes
    -----
    In the middle, the odd part of the polynomial of eighth degree through three nodes; at both
    ends, the polynomial of fifth degree through two.
    """
    f, d, c = values[..., 0], values[..., 1] * step, values[..., 2] * step**2
    third = np.empty(f.shape)
    # odd parts about a node: one unknown each for the third, fifth and seventh derivative
    rise = 0.5 * (f[:, 2:] - f[:, :-2]) - d[:, 1:-1]
    turn = 0.5 * (d[:, 2:] + d[:, :-2]) - d[:, 1:-1]
    bend = 0.5 * (c[:, 2:] - c[:, :-2])
    third[:, 1:-1] = 3.0 * (35.0 * rise - 11.0 * turn + bend) / 4.0
    for near, far, sign in ((0, 1, 1.0), (-1, -2, -1.0)):
        first, second = sign * d[:, near], c[:, near]
        rise = f[:, far] - f[:, near] - first - 0.5 * second
        turn = sign * d[:, far] - first - second
        third[:, near] = sign * 6.0 * (10.0 * rise - 4.0 * turn + 0.5 * (c[:, far] - second))
    return third


def between_nodes(
    low: Floats, high: Floats, s: Floats, step: float
) -> tuple[Floats, Floats, Floats]:
    """Return value, slope and curvature between two nodes.

    Parameters
    ----------
    low, high : ndarray, shape (..., 4)
        Value and first, second and third derivative at both nodes, each times a power of ``step``.
    s : ndarray, shape (...)
        Place between them, 0 at ``low`` and 1 at ``high``.
    step : float
        Distance of the nodes.

    Returns
    -------
    value, slope, curvature : ndarray, shape (...)
        Of the polynomial of seventh degree that agrees with all eight.
    """
    f0, d0, c0, t0 = (low[..., i] for i in range(4))
    half, sixth = 0.5 * c0, t0 / 6.0
    r0 = high[..., 0] - f0 - d0 - half - sixth
    r1 = high[..., 1] - d0 - c0 - 0.5 * t0
    r2 = high[..., 2] - c0 - t0
    r3 = high[..., 3] - t0
    a4 = 35.0 * r0 - 15.0 * r1 + 2.5 * r2 - r3 / 6.0
    a5 = -84.0 * r0 + 39.0 * r1 - 7.0 * r2 + 0.5 * r3
    a6 = 70.0 * r0 - 34.0 * r1 + 6.5 * r2 - 0.5 * r3
    a7 = -20.0 * r0 + 10.0 * r1 - 2.0 * r2 + r3 / 6.0
    value = f0 + s * (d0 + s * (half + s * (sixth + s * (a4 + s * (a5 + s * (a6 + s * a7))))))
    slope = d0 + s * (c0 + s * (0.5 * t0 + s * (
        4.0 * a4 + s * (5.0 * a5 + s * (6.0 * a6 + s * 7.0 * a7)))))
    curvature = c0 + s * (t0 + s * (
        12.0 * a4 + s * (20.0 * a5 + s * (30.0 * a6 + s * 42.0 * a7))))
    return value, slope / step, curvature / step**2
