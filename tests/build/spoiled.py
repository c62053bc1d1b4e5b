"""Copies of published tables that a test may spoil, and what the checks say of them."""

import contextlib

import duckdb

from tests.sql import tiny


@contextlib.contextmanager
def copies(edition_file, tables):
    """Yield a connection with writable ``results`` tables, the edition attached beside them."""
    with duckdb.connect() as con:
        con.execute(f"attach '{edition_file}' as edition (read_only)")
        con.execute("create schema results")
        for table in tables:
            con.execute(f"create table results.{table} as from edition.{table}")
        yield con


def faulty(con, check):
    """Return the rows that a check finds."""
    as_of = con.execute("select as_of from edition.edition").fetchall()[0][0]
    return tiny.faulty(con, check, as_of=as_of)
