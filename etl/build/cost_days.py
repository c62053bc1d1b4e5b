"""Of which days the costs are that stand for a failure at each place."""

from __future__ import annotations

from collections.abc import Sequence

import duckdb
import numpy as np
import pandas as pd

from etl.decide.cost import RECORDED_HERE, RECORDED_IN_CLASS, REGISTER


def cost_days(
    con: duckdb.DuckDBPyConnection, places: pd.DataFrame, origin: Sequence[str]
) -> pd.DataFrame:
    """Return the first and the last day of the costs behind each place's cost of a failure.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds ``fit.costs`` and ``fit.price_days``.
    places : DataFrame
        ``fit.places``.
    origin : sequence of str, length n_places
        As of `etl.decide.cost.ChangeCost`.

    Returns
    -------
    DataFrame
        cost_first_on, cost_last_on: of the removals whose costs were recorded, at the place or in
        its class; of the part's price, where the register stands in. Empty where no cost is known.
    """
    here = con.execute(
        "select place, min(removed_on) as first, max(removed_on) as last from fit.costs "
        "where not is_planned group by place").df().set_index("place")
    kinds = places["application_class"].to_numpy()
    in_class = here.groupby(kinds[here.index.to_numpy(np.int64)]).agg(
        {"first": "min", "last": "max"})
    priced = con.execute("select part_number, price_on from fit.price_days").df().set_index(
        "part_number")["price_on"]
    of_part = priced.reindex(places["part_number"]).to_numpy()
    said = np.asarray(origin, object)
    found = {}
    for name, column in (("cost_first_on", "first"), ("cost_last_on", "last")):
        days = pd.Series(pd.NaT, index=range(len(places)), dtype="datetime64[us]")
        for kind, values in (
                (RECORDED_HERE, here[column].reindex(range(len(places))).to_numpy()),
                (RECORDED_IN_CLASS, in_class[column].reindex(kinds).to_numpy()),
                (REGISTER, of_part)):
            mine = said == kind
            days[mine] = pd.to_datetime(pd.Series(values)).to_numpy()[mine]
        found[name] = days
    return pd.DataFrame(found)
