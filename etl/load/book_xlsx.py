"""Open a workbook of the present form, a package of XML parts."""

from __future__ import annotations

import posixpath
import re
import zipfile
from collections.abc import Iterator
from typing import Any
from xml.etree import ElementTree as ET

import python_calamine as calamine

from etl.load.book import Book, Cell, Page, Shown, ShownFormat, shown_format

BLOCK = 1 << 20
CELL = re.compile(rb"<(?:\w+:)?c\b[^>]*>")
PLACE = re.compile(rb'\br="([A-Z]{1,3})(\d{1,7})"')
STYLE = re.compile(rb'\bs="(\d+)"')
LONGEST_TAG = 4096
MOST_COLUMNS = 16_384


def open_xlsx(path: str) -> Book:
    """Open a workbook; its cells are read when a sheet is asked for.

    Parameters
    ----------
    path : str

    Returns
    -------
    Book

    Raises
    ------
    calamine.CalamineError, zipfile.BadZipFile, ElementTree.ParseError, KeyError
        The workbook is damaged.
    """
    book = calamine.CalamineWorkbook.from_path(path)
    package = Package(path)
    sheets = [item for item in book.sheets_metadata
              if item.typ == calamine.SheetTypeEnum.WorkSheet]
    visible = [item.name for item in sheets if item.visible == calamine.SheetVisibleEnum.Visible]

    def page(name: str) -> Page:
        sheet = book.get_sheet_by_name(name)
        left = sheet.start[1] if sheet.start else 0
        return Page(
            name, left, lambda: package.rows(name, sheet, left),
            list(sheet.merged_cell_ranges or []), lambda: package.count_errors(name),
        )

    return Book([item.name for item in sheets], visible, package.starts_1904, page)


class Package:
    """The parts of a workbook that the cell reader keeps to itself."""

    def __init__(self, path: str) -> None:
        """Read the small parts: sheets, calendar, number formats."""
        self.path = path
        with zipfile.ZipFile(path) as book:
            self.part_names = {_plain(name): name for name in book.namelist()}
            start = self._links(book, "").get("officedocument", "xl/workbook.xml")
            root = ET.fromstring(self._read(book, start))
            flags = root.find("{*}workbookPr")
            self.starts_1904 = flags is not None and flags.get("date1904") in ("1", "true")
            links = self._links(book, start)
            self.sheet_parts = {
                item.get("name", ""): links.get(_relation(item), "")
                for item in root.iterfind("{*}sheets/{*}sheet")}
            self.formats = self._formats(book, links.get("styles", ""))
        self.shown: dict[str, dict[int, ShownFormat]] = {}

    def rows(self, name: str, sheet: calamine.CalamineSheet, left: int) -> Iterator[list[Cell]]:
        """Yield the rows; numbers shown with leading zeros or letters carry their shown text."""
        if name not in self.shown:
            self.shown[name] = self._shown_cells(name) if self.formats else {}
        shown = self.shown[name]
        if not shown:
            yield from sheet.iter_rows()
            return
        for row, cells in enumerate(sheet.iter_rows()):
            first = row * MOST_COLUMNS + left
            yield [_shown(cell, shown.get(first + column)) for column, cell in enumerate(cells)]

    def count_errors(self, name: str) -> int:
        """Count the cells that hold an error, over the whole sheet."""
        n_errors, rest = 0, b""
        for block in self._blocks(name):
            n_errors += (rest + block).count(b't="e"')
            rest = block[-4:]
        return n_errors

    def _shown_cells(self, name: str) -> dict[int, ShownFormat]:
        """Find the cells whose format shows leading zeros or letters."""
        found: dict[int, ShownFormat] = {}
        rest = b""
        for block in self._blocks(name):
            text = rest + block
            for tag in CELL.finditer(text):
                style = STYLE.search(tag[0])
                wanted = self.formats.get(int(style[1])) if style else None
                place = PLACE.search(tag[0]) if wanted else None
                if wanted and place:
                    column = 0
                    for letter in place[1]:
                        column = column * 26 + letter - 64
                    found[(int(place[2]) - 1) * MOST_COLUMNS + column - 1] = wanted
            # A tag may be cut by the end of a block; its beginning is looked at again.
            rest = text[max(text.rfind(b"<"), len(text) - LONGEST_TAG):]
        return found

    def _blocks(self, name: str) -> Iterator[bytes]:
        """Yield the XML of a sheet in pieces."""
        with zipfile.ZipFile(self.path) as book, book.open(
            self.part_names[_plain(self.sheet_parts[name])]
        ) as xml:
            while block := xml.read(BLOCK):
                yield block

    def _formats(self, book: zipfile.ZipFile, part: str) -> dict[int, ShownFormat]:
        """Return the cell styles whose format shows leading zeros or letters."""
        if _plain(part) not in self.part_names:
            return {}
        root = ET.fromstring(self._read(book, part))
        codes = {item.get("numFmtId"): item.get("formatCode", "")
                 for item in root.iterfind("{*}numFmts/{*}numFmt")}
        found = {}
        for number, style in enumerate(root.iterfind("{*}cellXfs/{*}xf")):
            shown = shown_format(codes.get(style.get("numFmtId"), ""))
            if shown is not None:
                found[number] = shown
        return found

    def _links(self, book: zipfile.ZipFile, part: str) -> dict[str, str]:
        """Return the parts that a part refers to, by the reference's id and by its kind."""
        folder, name = posixpath.split(part)
        path = posixpath.join(folder, "_rels", f"{name}.rels")
        if _plain(path) not in self.part_names:
            return {}
        links: dict[str, str] = {}
        for link in ET.fromstring(self._read(book, path)):
            target = link.get("Target", "")
            target = target.lstrip("/") if target.startswith("/") else posixpath.join(
                folder, target)
            kind = link.get("Type", "").rsplit("/", 1)[-1].casefold()
            links.setdefault(kind, target)
            links[link.get("Id", "")] = target
        return links

    def _read(self, book: zipfile.ZipFile, part: str) -> bytes:
        """Return the bytes of a part, however its name is written."""
        return book.read(self.part_names[_plain(part)])


def _plain(name: str) -> str:
    """Write the name of a part in the form in which names are compared."""
    return posixpath.normpath(name.replace("\\", "/")).lstrip("/").casefold()


def _relation(item: ET.Element) -> str:
    """Return the id by which a sheet refers to its part."""
    return next((value for key, value in item.items() if key.endswith("}id")), "")


def _shown(cell: Any, shown: ShownFormat | None) -> Cell:
    """Put the shown text beside a number."""
    if shown is None or not isinstance(cell, (int, float)) or isinstance(cell, bool):
        return cell
    text = shown.text(float(cell))
    return cell if text is None else Shown(cell, text)
