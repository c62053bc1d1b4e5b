"""A folder of partitions: on a disk, or in any store that a path of fsspec names."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote
from urllib.request import url2pathname

import duckdb

from etl.errors import InputError
from etl.load.kept import sync
from etl.load.store_faults import plain

LISTS = "sites"
"""Folder of the lists, one file a site."""


@dataclass(frozen=True)
class Folder:
    """Where partitions are kept.

    Attributes
    ----------
    root : str
        A path, or an address such as ``s3://bucket/fleet`` whose kind fsspec knows.
    """

    root: str

    @classmethod
    def at(cls, place: str) -> Folder:
        """Return the folder at a path or address; paths are made absolute.

        Notes
        -----
        ``file://`` is an address of this machine's own disk: its path serves, so that lists are
        replaced in one step there as well.
        """
        if place.startswith("file:///"):
            place = url2pathname(place.removeprefix("file://"))
        return cls(place.rstrip("/") if "://" in place else str(Path(place).resolve()))

    @property
    def is_remote(self) -> bool:
        """Whether the folder is in an object store."""
        return "://" in self.root

    def path(self, *parts: str) -> str:
        """Return the path of a file below the folder."""
        return "/".join((self.root, *parts))

    def prepare(self, con: duckdb.DuckDBPyConnection) -> None:
        """Let a database read and write here."""
        if self.is_remote:
            if self.kind not in con.list_filesystems():
                con.register_filesystem(self._system())
        else:
            Path(self.path("clean")).mkdir(parents=True, exist_ok=True)

    def connect(self) -> duckdb.DuckDBPyConnection:
        """Open a database for one worker: one thread, not in the way of other workers.

        Notes
        -----
        Partitions are sorted by contents where the order matters; the order of insertion is not.
        """
        con = duckdb.connect(config={
            "threads": 1, "TimeZone": "UTC", "preserve_insertion_order": False,
            "autoinstall_known_extensions": "false"})
        con.execute("set enable_progress_bar = false")
        if self.is_remote:
            con.register_filesystem(self._system())
        return con

    def sites(self) -> list[str]:
        """Return the names of the lists of sites, sorted."""
        if self.is_remote:
            found = self._system().find(self.path(LISTS))
        else:
            found = [str(path) for path in Path(self.path(LISTS)).glob("*.json")]
        return sorted(path.rsplit("/", 1)[-1] for path in found if path.endswith(".json"))

    def read(self, name: str) -> str | None:
        """Return the list of a site, None where there is none."""
        path = self.path(LISTS, name)
        try:
            if self.is_remote:
                text: str = self._system().cat_file(path).decode("utf-8")
                return text
            return Path(path).read_text(encoding="utf-8")
        except FileNotFoundError:
            return None

    def write(self, name: str, text: str) -> None:
        """Replace the list of a site in one step."""
        path = self.path(LISTS, name)
        if self.is_remote:
            self._system().pipe_file(path, text.encode("utf-8"))
            return
        Path(path).parent.mkdir(parents=True, exist_ok=True)
        aside = Path(path).with_suffix(".tmp")
        aside.write_text(text, encoding="utf-8")
        sync(aside)
        os.replace(aside, path)

    def remove(self, files: Sequence[str]) -> None:
        """Delete files that no list names any more; those already gone are no fault."""
        for name in files:
            try:
                if self.is_remote:
                    self._system().rm_file(self.path(name))
                else:
                    Path(self.path(name)).unlink()
            except FileNotFoundError:
                continue

    def _system(self) -> Any:
        """Return what reads and writes this kind of store."""
        try:
            import fsspec
        except ImportError as exc:
            raise InputError(f"{self.kind}://: partitions in an object store need more software. "
                             "Install braidlife[cluster].") from exc
        try:
            return fsspec.filesystem(self.kind)
        except (ImportError, ValueError) as exc:
            raise InputError(f"{self.kind}://: {plain(exc)}. Install what reads this kind of "
                             "store, or give a path.") from exc

    @property
    def kind(self) -> str:
        """Protocol of an object store."""
        return self.root.split("://", 1)[0]


def list_name(site: str) -> str:
    """Return the file name of the list of a site.

    Examples
    --------
    >>> list_name("North 2/b")
    'North%202%2Fb.json'
    """
    return quote(site, safe="") + ".json"
