"""How fast each place of the invented fleet truly goes through hoses, against like places."""

from __future__ import annotations

from typing import Any

import duckdb
import numpy as np
import pandas as pd

DAYS_A_YEAR = 365.25
LIVES = """
select service_point, application_class, construction, entry_age_days as entry, installed_on,
    coalesce(age_high_days, age_low_days) as age
from lives where is_fitted
"""


def true_rates(con: duckdb.DuckDBPyConnection, truth: dict[str, Any]) -> pd.Series:
    """Return the true hazard passed at each place over that of like places at the same ages.

    A place's rate is that of its frailty, its vibration against the middle of its class, and what
    was planted there, over the mean of the hoses of its kind.
    """
    lives = con.execute(LIVES).df()
    shakes = con.execute("select service_point, vibration_mm_s_rms as v from service_points"
                         ).df().set_index("service_point")["v"]
    rows = lives.merge(pd.DataFrame(truth["strata"]), on=["application_class", "construction"])
    shape, life = rows["shape"], rows["characteristic_life_days"]
    passed = (rows["age"] / life) ** shape - (rows["entry"] / life) ** shape
    severity = rows["service_point"].map(shakes) / rows["application_class"].map(
        truth["reference_vibration_mm_s_rms"])
    shaken = (rows["mechanism"] == "vib_fatigue") & severity.notna()
    factor = np.where(shaken, severity ** (rows["construction"].map(truth["exponents"]) * shape),
                      1.0)
    for item in truth["planted_places"]:
        mine = ((rows["service_point"] == item["service_point"])
                & rows["mechanism"].eq(item["mechanism"])).to_numpy()
        begin = pd.Timestamp(f"{item.get('from_year', 2000)}-01-01")
        years = (pd.to_datetime(rows["installed_on"][mine]) - begin).dt.days / DAYS_A_YEAR
        factor[mine] *= item["rate"] * item.get("growth", 1.0) ** years.clip(lower=0.0)
    own = passed * factor * rows["service_point"].map(truth["relative_rates"])
    kinds = [rows["application_class"], rows["construction"]]
    like = passed * own.groupby(kinds).transform("sum") / passed.groupby(kinds).transform("sum")
    places = rows["service_point"]
    return own.groupby(places).sum() / like.groupby(places).sum()
