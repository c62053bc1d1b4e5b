"""Files that an edition was made of although the register of the archive no longer names them.

The register may lose lines to a damaged disk, an editor or a backup that was too old. A load would
then publish less than before without a word; the edition itself knows what it was made of.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import duckdb

from etl.errors import StoreError
from etl.load.kept import digest
from etl.load.publish import POINTER, current_edition
from etl.load.quoting import literal
from etl.load.register import REGISTER, Registered, every_line

SHOWN = 5
LIST = "archived_files"
"""Table of an edition: which files it was made of, and by which mappings they were read."""
NOTED = f"""
create or replace table results.{LIST} as
select
    unnest($names::varchar[]) as source_file, unnest($files::varchar[]) as sha256,
    unnest($mappings::varchar[]) as mapping_sha256
"""


def note_archived(con: duckdb.DuckDBPyConnection, files: Iterable[Registered]) -> None:
    """Make the table ``results.archived_files``, one row a file, by its content."""
    listed = list(files)
    con.execute(NOTED, {
        "names": [item.source_file for item in listed],
        "files": [item.sha256 for item in listed],
        "mappings": [item.mapping_sha256 for item in listed],
    })


def check_none_lost(store: Path, given: Iterable[Path] = ()) -> None:
    """Stop where the register lost lines of what the present edition was made of.

    Parameters
    ----------
    store : Path
    given : iterable of Path
        Files that are being loaded: those that were lost come back by that.

    Raises
    ------
    StoreError
        Named are the files that would be missing, or be read by an earlier mapping.
    """
    if not (store / POINTER).is_file():
        return
    lines = every_line(store)
    lost = _lost(store, {(item.sha256, item.mapping_sha256) for item in lines})
    again = {_digest(file) for file in given} if lost else set()
    missing = sorted({name for name, sha256 in lost if sha256 not in again})
    if missing:
        more = f" and {len(missing) - SHOWN} more" if len(missing) > SHOWN else ""
        raise StoreError(
            f"{REGISTER}: lines are gone, among them those of {', '.join(missing[:SHOWN])}{more},"
            " which the published edition was made of. Put this file back from a backup, or load"
            " those files again, each with its columns.toml beside it."
        )


def _lost(store: Path, named: set[tuple[str, str | None]]) -> list[tuple[str, str]]:
    """Return name and content of files that no line names with the mapping they were read by.

    An edition that cannot tell leaves the archive to do so: a copy in it that no line names at all.
    """
    try:
        # Attached, not opened: pages of this process may hold it open in their own way.
        with duckdb.connect() as con:
            con.execute(f"attach {literal(str(current_edition(store)))} as edition (read_only)")
            made_of = con.execute(
                f"select source_file, sha256, mapping_sha256 from edition.{LIST}").fetchall()
    except (duckdb.Error, StoreError):  # damaged, gone, or made before editions kept this list
        files = {sha256 for sha256, _ in named}
        return [(f"files/{path.name}", path.stem) for path in (store / "files").glob("*")
                if path.stem not in files and path.suffix != ".tmp"]
    return [(name, sha256) for name, sha256, mapping in made_of if (sha256, mapping) not in named]


def _digest(file: Path) -> str:
    """Return the sign of a file's content; none where it cannot be read, which is told later."""
    try:
        return digest(file)
    except OSError:
        return ""
