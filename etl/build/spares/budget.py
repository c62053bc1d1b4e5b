"""What the parts used from now to the end of each month will cost, all parts together."""

from __future__ import annotations

import numpy as np
import pandas as pd

from etl.build.spares.demand import PartDemand
from etl.decide.spares.stock import budget_quantiles
from etl.life.renewal import N_MONTHS

QUANTILES = (0.05, 0.5, 0.9, 0.95)
COLUMNS = ["month", "n_months", "mean", "lower", "p50", "p90", "upper", "n_parts",
           "n_without_price"]


def budget_table(found: list[PartDemand], months: pd.DatetimeIndex) -> pd.DataFrame:
    """Return the money that parts use up to the end of each month, with its quantiles.

    Parameters
    ----------
    found : list of PartDemand
    months : DatetimeIndex, length 12
        First days.

    Returns
    -------
    DataFrame
        Cumulative; empty where no part has a price. Parts are added up in each draw before any
        quantile is taken: the P90 of the sum is less than the sum of the P90s.
    """
    priced = [(part, part.unit_price) for part in found if part.unit_price is not None]
    if not priced:
        return pd.DataFrame(columns=COLUMNS)
    mean = sum(price * part.mean for part, price in priced)
    variance = sum(price**2 * part.variance for part, price in priced)
    rows = []
    for at in range(N_MONTHS):
        m, v = np.asarray(mean)[:, at], np.asarray(variance)[:, at]
        lower, p50, p90, upper = budget_quantiles(m, v, QUANTILES)
        rows.append((months[at], at + 1, float(m.mean()), lower, p50, p90, upper, len(found),
                     len(found) - len(priced)))
    return pd.DataFrame(rows, columns=COLUMNS)
