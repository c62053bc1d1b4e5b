"""Photographs: taken for one only when their content is one, kept under the hash of it."""

from __future__ import annotations

import hashlib
import io
import os
import re
import warnings
from dataclasses import dataclass
from pathlib import Path

from etl.errors import InputError
from etl.load.entered import FOLDER
from etl.load.kept import drop, sync
from etl.load.store_faults import write_fault

LARGEST = 2_800_000
"""Bytes; the page makes a photograph smaller before it is sent."""
MOST_PIXELS = 40_000_000
"""A small file can unpack into more than a machine has room for."""
KINDS = {"JPEG": ("jpg", b"\xff\xd8\xff"), "PNG": ("png", b"\x89PNG\r\n\x1a\n"),
         "WEBP": ("webp", b"RIFF")}
MEDIA = {"jpg": "image/jpeg", "png": "image/png", "webp": "image/webp"}
NAME = re.compile(r"[0-9a-f]{64}\.(jpg|png|webp)")
NO_PHOTOGRAPH = "photograph: this is no JPEG, PNG or WebP picture. Choose another file."


@dataclass(frozen=True)
class Photograph:
    """A photograph in the store."""

    path: Path
    media_type: str


def keep_photograph(store: Path, content: bytes) -> str:
    """Keep a photograph and return its name; the same one again is kept once.

    Parameters
    ----------
    store : Path
    content : bytes
        The whole file.

    Returns
    -------
    str
        Hash of the content and an ending.

    Raises
    ------
    InputError
        It is too large, of no known kind, or cannot be decoded to its last pixel.
    StoreError
        It cannot be written.
    """
    name = f"{hashlib.sha256(content).hexdigest()}.{_ending(content)}"
    target = _folder(store) / name
    if target.is_file():
        return name
    part = target.with_name(f"{name}.{os.getpid()}.tmp")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with part.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, target)
        sync(target.parent)
    except OSError as exc:
        drop(part)
        raise write_fault(store, "the photograph could not be kept", exc, "try again") from exc
    return name


def find_photograph(store: Path, name: str) -> Photograph | None:
    """Return a photograph by its name; None where the name is none or nothing is kept under it."""
    found = NAME.fullmatch(name)
    if found is None:
        return None
    path = _folder(store) / name
    return Photograph(path, MEDIA[found[1]]) if path.is_file() else None


def _folder(store: Path) -> Path:
    return store / FOLDER / "photographs"


def _ending(content: bytes) -> str:
    """Return the ending for a content that is a picture from its first byte to its last pixel."""
    if len(content) > LARGEST:
        raise InputError(f"photograph: at most {LARGEST / 1e6:.1f} MB, this one has "
                         f"{len(content) / 1e6:.1f} MB. Take it in a lower resolution.")
    kind = next((kind for kind, (_, magic) in KINDS.items() if content.startswith(magic)), None)
    if kind is None:
        raise InputError(NO_PHOTOGRAPH)
    # Imported here: only whoever sends a photograph needs it.
    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(content), formats=[kind]) as picture:
                if picture.width * picture.height > MOST_PIXELS:
                    raise InputError(f"photograph: {picture.width} x {picture.height} pixels are "
                                     "too many. Take it in a lower resolution.")
                picture.load()
    except (OSError, ValueError, SyntaxError, UnidentifiedImageError,
            Image.DecompressionBombError, Image.DecompressionBombWarning) as exc:
        raise InputError(NO_PHOTOGRAPH) from exc
    return KINDS[kind][0]
