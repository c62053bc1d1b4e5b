"""Questions about the data: what was loaded, corrected, refused, left out, and doubted."""

from __future__ import annotations

from dashboard.queries.edition import Row, ask, ask_one
from dashboard.queries.paged import PagedTable

REFUSED = PagedTable(
    source="""(select *, row_number() over (order by log, source_file, source_row, column_name,
        reason, value, remedy) as number from refused)""",
    columns={
        "log": "log",
        "source_file": "source_file",
        "source_row": "source_row",
        "column_name": "column_name",
        "value": "value",
        "reason": "reason",
        "remedy": "remedy",
        "number": "number",
    },
    key="number",
    order="source_file, source_row",
    filters={
        "log": "log = ?",
        "file": "source_file = ?",
        "why": "reason = ?",
        "text": """contains(lower(concat_ws(' ', source_file, column_name, value, reason, remedy)),
            lower(?))""",
    },
)
"""Every fault of a refused row. The running number makes two equal faults tell apart."""


def loads() -> list[Row]:
    """Return what became of every file and log; what was entered in the pages is added up."""
    return ask(
        """with told as (
            select *, coalesce(source_file = log || '.jsonl', false) as is_entered from loads
        )

        select source_file, log, max(loaded_on) as loaded_on, max(exported_on) as exported_on,
            sum(n_records)::bigint as n_records, sum(n_blank)::bigint as n_blank,
            sum(n_skipped - n_left_out)::bigint as n_skipped,
            sum(n_left_out)::bigint as n_left_out, sum(n_clean)::bigint as n_clean,
            sum(n_superseded)::bigint as n_superseded, sum(n_refused)::bigint as n_refused,
            status, message, is_entered
        from told
        group by source_file, log, status, message, is_entered,
            case when not is_entered then load_id end
        order by status <> 'refused', max(loaded_on) desc nulls last, source_file, log,
            min(load_id)"""
    )


def totals() -> Row:
    """Return the sums over all files, and how many files were refused whole."""
    row = ask_one(
        """select count(distinct source_file) as n_files,
            count(*) filter (where status = 'refused') as n_refused_files,
            coalesce(sum(n_clean + n_superseded + n_refused), 0)::bigint as n_records,
            coalesce(sum(n_clean), 0)::bigint as n_clean,
            coalesce(sum(n_superseded), 0)::bigint as n_superseded,
            coalesce(sum(n_refused), 0)::bigint as n_refused,
            coalesce((select sum(n_cells) from corrections), 0)::bigint as n_corrected
        from loads"""
    )
    return row or {}


def reasons() -> list[Row]:
    """Return why rows were refused: how often, an example, and the remedy."""
    return ask(
        """select reason, min(remedy) as remedy, count(*) as n_faults,
            count(distinct source_file) as n_files, min(column_name) as column_name,
            min(value) as example from refused
        group by reason order by n_faults desc, reason"""
    )


def refused_logs() -> list[str]:
    """Return the logs that have refused rows."""
    return [row["log"] for row in ask("select distinct log from refused order by log")]


def refused_files() -> list[str]:
    """Return the files that have refused rows."""
    rows = ask("select distinct source_file from refused where source_file is not null order by 1")
    return [row["source_file"] for row in rows]


def superseded() -> list[Row]:
    """Return how many rows a later or equal row took the place of, by cause."""
    return ask(
        "select log, cause, count(*) as n_rows from superseded group by log, cause order by 1, 2"
    )


def corrections() -> list[Row]:
    """Return the corrections made while reading."""
    return ask(
        """select source_file, log, column_name, what, n_cells, example from corrections
        order by n_cells desc nulls last, source_file, log, column_name, what, example"""
    )


def findings() -> list[Row]:
    """Return the oddities met while lives were built, counted by kind, with one example each."""
    return ask(
        """select finding, count(*) as n_rows, count(distinct service_point) as n_places,
            min(detail) as example from findings group by finding order by n_rows desc, finding"""
    )


def exclusions() -> list[Row]:
    """Return why lives stay out of the fits."""
    return ask("select exclusion, n_lives from exclusions order by n_lives desc, exclusion")


def exclusion_files() -> list[Row]:
    """Return why lives stay out of the fits, by the file that tells of them."""
    return ask("""select exclusion, source_file, n_lives from exclusion_files
        order by exclusion, n_lives desc, source_file""")


def doubts() -> list[Row]:
    """Return the doubts, the one with most rows first."""
    return ask("select doubt, n_rows, effect from doubts order by n_rows desc nulls last, doubt")


def optional_logs() -> list[Row]:
    """Return the logs that are not needed but add something; missing ones first."""
    return ask("select log, n_rows, adds from optional_logs order by n_rows > 0, log")
