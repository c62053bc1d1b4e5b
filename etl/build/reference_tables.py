"""Reference tables that pages show but no log holds."""

from __future__ import annotations

import duckdb
import pandas as pd

from etl.load.columns import described


def add_reference_tables(con: duckdb.DuckDBPyConnection) -> None:
    """Register ``log_columns_frame``: every column that a log may have, from the catalogue.

    Parameters
    ----------
    con : DuckDBPyConnection
    """
    con.register("log_columns_frame", pd.DataFrame(described()))
