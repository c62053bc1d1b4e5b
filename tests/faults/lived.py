"""What people leave in a store, and all that a store holds."""

from __future__ import annotations

import io
import stat
from pathlib import Path

from PIL import Image

from etl.entry.journal import append
from etl.entry.photographs import keep_photograph


def picture(shade: int) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (8, 8), (shade, 0, 0)).save(out, "PNG")
    return out.getvalue()


def enter(store: Path, number: int) -> str:
    """Enter a finding with a photograph, as a page does: the photograph first."""
    name = keep_photograph(store, picture(number % 256))
    row = {"service_point": "A-1", "removed_on": "2020-06-01", "hose_id": "007",
           "finding": "photograph", "value": name}
    append(store, "teardowns", f"entry-{number:016d}", "R. Moss", [row])
    return name


def held(store: Path) -> dict[str, tuple[bytes, int]]:
    """Return every file of a store with its content and rights, without what only works."""
    return {path.relative_to(store).as_posix(): (path.read_bytes(), stat.S_IMODE(
        path.stat().st_mode) & 0o077) for path in store.rglob("*") if path.is_file()
        and path.name not in ("lock", "edition-000009.tmp")}
