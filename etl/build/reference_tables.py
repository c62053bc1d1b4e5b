"""Reference tables that pages show but no log holds."""

from __future__ import annotations

import duckdb
import pandas as pd

from etl.load.columns import LOGS


def add_reference_tables(con: duckdb.DuckDBPyConnection) -> None:
    """Register ``log_columns_frame``: every column that a log may have, from the catalogue.

    Parameters
    ----------
    con : DuckDBPyConnection
    """
    rows = [
        {"log": log.name, "position": position, "column_name": column.name, "kind": column.kind,
         "unit": column.unit, "is_required": column.is_required, "meaning": column.meaning,
         "words": ", ".join(column.words)}
        for log in LOGS.values()
        for position, column in enumerate(log.columns, start=1)
    ]
    con.register("log_columns_frame", pd.DataFrame(rows))
