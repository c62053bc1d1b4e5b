"""Photographs: by their content, to the last pixel, under the hash of it."""

import hashlib
import io
import struct
import zlib

import pytest
from PIL import Image

from etl.entry import photographs
from etl.entry.photographs import find_photograph, keep_photograph
from etl.errors import InputError


def picture(kind, size=(40, 30)):
    out = io.BytesIO()
    Image.effect_noise(size, 50).convert("RGB").save(out, kind)
    return out.getvalue()


@pytest.mark.parametrize(("kind", "media"), [
    ("JPEG", "image/jpeg"), ("PNG", "image/png"), ("WEBP", "image/webp")])
def test_a_picture_is_kept_once_under_its_hash(tmp_path, kind, media):
    content = picture(kind)
    name = keep_photograph(tmp_path, content)
    assert name.startswith(hashlib.sha256(content).hexdigest())
    assert keep_photograph(tmp_path, content) == name
    found = find_photograph(tmp_path, name)
    assert (found.media_type, found.path.read_bytes()) == (media, content)
    assert [path.name for path in (tmp_path / "entries" / "photographs").iterdir()] == [name]


def png_of(width, height):
    """A small file that says it is a large picture."""
    def chunk(name, data):
        return struct.pack(">I", len(data)) + name + data + struct.pack(
            ">I", zlib.crc32(name + data))
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 99))
            + chunk(b"IEND", b""))


@pytest.mark.parametrize("content", [
    b"", b"GIF89a" + b"\0" * 50, b"<svg onload='alert(1)'/>", b"<html>\xff\xd8\xff</html>",
    b"\xff\xd8\xff<script>alert(1)</script>", b"\x89PNG\r\n\x1a\n" + b"\0" * 90,
    b"RIFF1234WEBPVP8 ", picture("JPEG")[:300], picture("PNG")[:-800], b"RIFF" + picture("JPEG"),
    png_of(6000, 6000), png_of(30_000, 30_000), b"%PDF-1.7", b"MZ" + b"\0" * 60,
], ids=lambda content: repr(content[:16]))
def test_what_is_no_whole_picture_is_refused_and_not_kept(tmp_path, content):
    with pytest.raises(InputError, match="photograph:"):
        keep_photograph(tmp_path, content)
    assert not (tmp_path / "entries").exists()


def test_a_large_file_is_refused_before_it_is_decoded(tmp_path, monkeypatch):
    monkeypatch.setattr(photographs, "LARGEST", 1000)
    with pytest.raises(InputError, match="at most"):
        keep_photograph(tmp_path, picture("PNG", (100, 100)))


@pytest.mark.parametrize("name", [
    "", "../lock", "a" * 64, "a" * 64 + ".svg", "../" + "a" * 64 + ".jpg", "A" * 64 + ".jpg",
    "a" * 64 + ".jpg/../../lock", "a" * 64 + ".jpg\n", "a" * 63 + ".png", "%2e%2e%2flock"])
def test_a_name_that_is_none_finds_nothing(tmp_path, name):
    (tmp_path / "lock").write_text("x")
    keep_photograph(tmp_path, picture("PNG"))
    assert find_photograph(tmp_path, name) is None
