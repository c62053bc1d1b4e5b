"""From the archive to the raw layer: every log as it was read, every cell as text."""

from __future__ import annotations

import datetime as dt
import tempfile
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import duckdb

from etl.errors import InputError
from etl.load import archive
from etl.load.columns import LOGS
from etl.load.delimited import Job
from etl.load.entered import batches, insert_batch, journal_path, read_journal
from etl.load.extract import Extract
from etl.load.folders import MAPPING
from etl.load.mapping import Mapping, TypingOptions
from etl.load.place_history import pooled_names
from etl.load.plan import make_plan
from etl.load.readers import read
from etl.load.recognise import Feed, by_dialect, date_in_name, recognise, wanted_of
from etl.load.staged import Part, Staged, TableOfParts, stage
from etl.load.swaps import insert_moves
from etl.load.tidy import tidy
from etl.load.warehouse import run_layer


@dataclass(frozen=True)
class Source:
    """One file of the archive, or one looked at before it is loaded."""

    load_id: int
    name: str
    path: Path
    sha256: str
    size_bytes: int
    loaded_on: dt.date


@dataclass
class Declared:
    """What mappings say of places and hoses beside how their files are written."""

    swaps: dict[str, tuple[Source, Mapping]] = field(default_factory=dict)
    """By the hash of the mapping, with the first file that is read by it."""
    renamed: dict[str, dict[str, str]] = field(default_factory=dict)
    """By the hash of the mapping, old names of places -> present ones."""
    last: int = 0
    """Number of the last load."""


class RawLayer:
    """The raw layer while it is being filled."""

    def __init__(self, con: duckdb.DuckDBPyConnection, folder: Path) -> None:
        """Make the empty layer; `folder` takes temporary files."""
        self.con = con
        self.folder = folder
        self.groups: dict[int, TypingOptions] = {}
        run_layer(con, "raw")
        self.tables: dict[str, TableOfParts] = {}

    def table(self, log: str) -> TableOfParts:
        """Return the table of a log, made when it is asked for first."""
        if log not in self.tables:
            self.tables[log] = TableOfParts(self.con, LOGS[log])
        return self.tables[log]

    def add(self, source: Source, feeds: list[Feed]) -> None:
        """Read one file into every log that it feeds; what fails is noted as refused."""
        for number, (dialect, same) in enumerate(by_dialect(feeds), start=1):
            job = Job(self.con, source.path, source.name, f"raw.file_{source.load_id}_{number}",
                      self.folder, wanted_of(same), dialect)
            try:
                extract = tidy(self.con, read(job), source.name)
            except InputError as exc:
                for feed in same:
                    self.refuse(source, feed, str(exc))
                continue
            self._add_feeds(source, feeds, same, extract)
            self.con.execute(f"drop table {extract.unreadable}")

    def _add_feeds(self, source: Source, feeds: list[Feed], same: list[Feed],
                   extract: Extract) -> None:
        """Give each log its columns of one staging table."""
        is_kept = False
        for feed in same:
            try:
                plan = make_plan(source.name, feed, extract.header, feeds)
                part = Part(source.load_id, feed.entry_no, feed.log, plan, extract)
                staged = stage(self.con, part)
            except InputError as exc:
                self.refuse(source, feed, str(exc))
                continue
            is_kept |= self.table(feed.log.name).add(part, staged)
            options = replace(
                feed.options, may_hold_blanks=extract.may_hold_blanks or plan.may_add_blanks)
            self._note(source, feed, extract, staged, options)
            self._note_corrections(source, feed, (*extract.corrections, *staged.corrections))
        if not is_kept:
            self.con.execute(f"drop table {extract.table}")

    def _note(self, source: Source, feed: Feed, extract: Extract, staged: Staged,
              options: TypingOptions) -> None:
        """Write the account of a file that was loaded."""
        n_unreadable = extract.n_unreadable
        if n_unreadable is None:
            (n_unreadable,), = self.con.execute(
                f"select count(*) from {extract.unreadable}").fetchall()
        if n_unreadable:
            self.con.execute(
                "insert into raw.unreadable select $load_id, $entry_no, $file, source_row,"
                " nullif(column_name, ''), value, reason, remedy"
                f" from {extract.unreadable} order by source_row",
                {"load_id": source.load_id, "entry_no": feed.entry_no, "file": source.name},
            )
        self._insert_load(
            source, feed, extract.n_records, extract.n_blank,
            extract.n_skipped + staged.n_totals + staged.n_left_out, staged.n_left_out,
            n_unreadable, "loaded", None, self._group(options),
        )

    def _note_corrections(self, source: Source, feed: Feed, items: Iterable[object]) -> None:
        """Write what was put right."""
        for item in items:
            values = vars(item)
            self.con.execute(
                "insert into raw.corrections values (?, ?, ?, ?, ?, ?, ?)",
                [source.load_id, feed.entry_no, source.name, values["column_name"],
                 values["what"], values["n_cells"], values["example"]],
            )

    def refuse(self, source: Source, feed: Feed | None, message: str) -> None:
        """Write the account of a file that could not be loaded."""
        self._insert_load(source, feed, 0, 0, 0, 0, 0, "refused", message, None)

    def _insert_load(self, source: Source, feed: Feed | None, n_records: int, n_blank: int,
                     n_skipped: int, n_left_out: int, n_unreadable: int, status: str,
                     message: str | None, group: int | None) -> None:
        """Insert one row into raw.loads."""
        entry = feed.entry if feed else None
        exported_on = (entry.exported_on if entry else None) or date_in_name(source.name)
        self.con.execute(
            "insert into raw.loads values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            [source.load_id, source.name, feed.log.name if feed else None,
             feed.entry_no if feed else 1, source.sha256, source.size_bytes, source.loaded_on,
             exported_on, n_records, n_blank, n_skipped, n_left_out, n_unreadable, status, message,
             group],
        )

    def add_files(self, store: Path, items: Sequence[archive.Registered],
                  say: Callable[[str], None] | None) -> Declared:
        """Read files of the archive; return what their mappings say of places."""
        declared = Declared()
        for item in items:
            if say is not None:
                say(f"reading {item.source_file}")
            declared.last = item.load_id
            source = Source(item.load_id, item.source_file, archive.archived(store, item),
                            item.sha256, item.size_bytes, item.loaded_on)
            mapping = archive.mapping_of(store, item)
            if mapping and mapping.renamed_places and item.mapping_sha256:
                declared.renamed[item.mapping_sha256] = mapping.renamed_places
            if mapping and mapping.swap and item.mapping_sha256:
                declared.swaps.setdefault(item.mapping_sha256, (source, mapping))
            try:
                feeds = recognise(item.source_file, mapping)
            except InputError as exc:
                self.refuse(source, None, str(exc))
                continue
            self.add(source, feeds)
        return declared

    def add_swaps(self, source: Source, mapping: Mapping) -> None:
        """Put the hoses in that changed places by the mapping's own word."""
        moved = ("installations", "replacements")
        for log in moved:
            self.table(log)
        n_rows = insert_moves(self.con, source.load_id, mapping.swap)
        for number, log in enumerate(moved, start=1):
            feed = Feed(number, LOGS[log], None, mapping.renamed_places)
            self._insert_load(source, feed, n_rows + 1, 0, 0, 0, 0, "loaded", None,
                              self._group(feed.options))

    def add_entries(self, store: Path, renamed: Iterable[dict[str, str]],
                    left_out: Collection[int] = ()) -> None:
        """Put in what people entered in the pages, as one more file of each log."""
        names = pooled_names(renamed)
        for log in LOGS.values():
            path = journal_path(store, log.name)
            feed = Feed(1, log, None, names.agreed)
            options = feed.options
            if any(names) and "service_point" in log.names:
                options = replace(options, pooled_names=names)
            for batch in batches(log, read_journal(store, log.name)):
                if batch.load_id in left_out:
                    continue
                self.table(log.name)
                insert_batch(self.con, log, batch)
                source = Source(batch.load_id, path.name, path, batch.sha256, batch.n_bytes,
                                dt.date.fromisoformat(batch.day))
                n_records = batch.n_rows + batch.n_repeated + len(batch.torn)
                options = replace(options, may_hold_blanks=batch.may_hold_blanks)
                self._insert_load(source, feed, n_records, 0, batch.n_repeated, 0,
                                  len(batch.torn), "loaded", None, self._group(options))

    def _group(self, options: TypingOptions) -> int:
        """Return the number of the group of files that are written alike."""
        for number, known in self.groups.items():
            if known == options:
                return number
        self.groups[len(self.groups) + 1] = options
        return len(self.groups)

    def finish(self, logs: Collection[str] = tuple(LOGS)) -> None:
        """Make ``raw.<log>`` of some logs."""
        for log in logs:
            self.table(log).finish()


def load_raw(
    con: duckdb.DuckDBPyConnection, store: Path, say: Callable[[str], None] | None = None,
) -> dict[int, TypingOptions]:
    """Read the whole archive into the raw layer.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        The work database.
    store : Path
        Folder of the store.
    say : callable or None
        Told the name of each file before it is read.

    Returns
    -------
    dict of int to TypingOptions
        How the cells of each typing group of ``raw.loads`` are written.

    Raises
    ------
    StoreError
        The archive is damaged. A file that cannot be read raises nothing: it stands in
        ``raw.loads`` as refused, with its message.

    Notes
    -----
    ``raw.<log>`` is a view: large files stay where the reader put them, so that their rows are
    not copied once more. For each file, records = header + rows + unreadable + blank + skipped.
    """
    with tempfile.TemporaryDirectory(prefix="work.", dir=store) as folder:
        layer = RawLayer(con, Path(folder))
        declared = layer.add_files(store, archive.registered(store), say)
        for number, (sha256, (source, mapping)) in enumerate(
                declared.swaps.items(), start=declared.last + 1):
            layer.add_swaps(replace(source, load_id=number, name=MAPPING, sha256=sha256,
                                    size_bytes=0), mapping)
        layer.add_entries(store, declared.renamed.values())
        layer.finish()
    return layer.groups


def load_new(
    con: duckdb.DuckDBPyConnection, store: Path, items: Sequence[archive.Registered],
    entered: Collection[int], say: Callable[[str], None] | None = None,
) -> dict[int, TypingOptions] | None:
    """Read some files of the archive, and entries, into the raw layer.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
    store : Path
    items : sequence of archive.Registered
        The files to be read.
    entered : collection of int
        Numbers of loads of entries that are left out.
    say : callable or None

    Returns
    -------
    dict of int to TypingOptions or None
        As of `load_raw`; ``raw.<log>`` stands for logs that have new files or entries. None where
        a mapping renames places or declares swaps, which can change how other files are read.
    """
    with tempfile.TemporaryDirectory(prefix="work.", dir=store) as folder:
        layer = RawLayer(con, Path(folder))
        declared = layer.add_files(store, items, say)
        if declared.swaps or declared.renamed:
            return None
        layer.add_entries(store, (), entered)
        layer.finish(sorted(layer.tables))
    return layer.groups


def declares_places(store: Path) -> bool:
    """Tell whether a mapping of the archive renames places or declares swapped hoses."""
    mappings = {item.mapping_sha256: archive.mapping_of(store, item)
                for item in archive.registered(store) if item.mapping_sha256}
    return any(mapping is not None and bool(mapping.renamed_places or mapping.swap)
               for mapping in mappings.values())
