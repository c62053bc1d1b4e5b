"""Threads of the libraries for linear algebra: one, unless the environment says otherwise.

Matrices here are small and many: threads cost more than they save, and sums would depend on how
many cores a machine has.
"""

from __future__ import annotations

import os

NAMES = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
"""What the libraries read as they start."""


def one_by_default() -> None:
    """Ask for one thread where nothing was asked for; of use before the libraries start."""
    for name in NAMES:
        os.environ.setdefault(name, "1")
