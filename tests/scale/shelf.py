"""An object store in a folder, which other processes reach: keys without folders, nothing renamed.

It stands for stores such as ``s3://``: importing this module lets fsspec know ``shelf://``.
"""

from __future__ import annotations

import datetime as dt
import io
import os
from pathlib import Path
from urllib.parse import quote, unquote

import fsspec
from fsspec.spec import AbstractFileSystem

HOME = "BRAIDLIFE_TEST_SHELF"
"""Variable that names the folder; worker processes inherit it."""


class Object(io.BytesIO):
    """What is written becomes the object as a whole, when it is closed and not before."""

    def __init__(self, path: Path) -> None:
        super().__init__()
        self._path = path

    def close(self) -> None:
        """Put the object in its place."""
        if not self.closed:
            aside = self._path.with_name(f".{os.getpid()}-{id(self)}")
            aside.write_bytes(self.getvalue())
            aside.replace(self._path)
        super().close()


class Shelf(AbstractFileSystem):
    """One file an object, its key quoted; folders are only beginnings of keys."""

    protocol = "shelf"
    cachable = False

    def _file(self, path: str) -> Path:
        return Path(os.environ[HOME]) / quote(self._strip_protocol(path), safe="")

    def _keys(self) -> dict[str, int]:
        return {unquote(file.name): file.stat().st_size
                for file in Path(os.environ[HOME]).iterdir() if not file.name.startswith(".")}

    def ls(self, path, detail=True, **_):
        """List what lies below a beginning."""
        path, found = self._strip_protocol(path).rstrip("/"), {}
        for key, size in self._keys().items():
            if key == path:
                found[key] = {"name": key, "size": size, "type": "file"}
            elif key.startswith(path + "/"):
                name = path + "/" + key[len(path) + 1:].split("/")[0]
                found[name] = {"name": name, "size": size if name == key else 0,
                               "type": "file" if name == key else "directory"}
        if not found:
            raise FileNotFoundError(path)
        rows = [found[name] for name in sorted(found)]
        return rows if detail else [row["name"] for row in rows]

    def _open(self, path, mode="rb", **_):
        if "w" in mode:
            return Object(self._file(path))
        return io.BytesIO(self._file(path).read_bytes())

    def rm_file(self, path):
        """Delete an object."""
        self._file(path).unlink()

    def mkdir(self, path, **_):
        """Nothing is to be made."""

    def makedirs(self, path, exist_ok=False):
        """Nothing is to be made."""

    def modified(self, path):
        """Return when an object was put there."""
        return dt.datetime.fromtimestamp(self._file(path).stat().st_mtime, dt.UTC)


fsspec.register_implementation("shelf", Shelf, clobber=True)


class Knowing:
    """A function that comes with this module to whichever process it is sent."""

    def __init__(self, function) -> None:
        self._function = function

    def __call__(self, task):
        return self._function(task)


class Told:
    """An executor whose workers know the store."""

    def __init__(self, executor) -> None:
        self._executor = executor

    def map(self, function, tasks):
        """Yield results in order."""
        return self._executor.map(Knowing(function), tasks)
