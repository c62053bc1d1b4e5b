"""Workbooks with a byte or a part gone wrong: every row is told, or the file refused with why."""

import datetime as dt

from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from tests.load.hostile import BOUNDED, BYTES, IGNORED, tables
from tests.load.new_workbook import book, books, rewritten
from tests.load.old_workbook import old_book
from tests.load.test_hostile_texts import REGISTER, empty_site, holds

QUICK = settings(BOUNDED, max_examples=BOUNDED.max_examples // 2,
                 phases=[Phase.explicit, Phase.generate])
"""Each example starts a process, so that making a failing one smaller takes long."""
VALUES = st.one_of(st.none(), st.integers(-2**40, 2**60), st.floats(-1e18, 1e18),
                   st.datetimes(dt.datetime(1905, 1, 1), dt.datetime(2400, 1, 1)), st.booleans())


@st.composite
def sheets(draw, log):
    """Return rows in which some texts have become numbers, days or nothing."""
    names, *rows = draw(tables(log))
    # Not every sign can be written: XML has no control characters.
    plain = [["".join(sign for sign in cell if sign.isprintable()) for cell in row] for row in rows]
    above = draw(st.sampled_from([[], [], [["Report"]], [[], ["printed", 2020]]]))
    return [*above, names, *([draw(VALUES) if draw(st.integers(0, 4)) == 0 else cell
                              for cell in row] for row in plain)]


def spoiled(data, content):
    """Return bytes with a few of them changed."""
    for piece in data.draw(st.lists(BYTES, max_size=3)):
        place = data.draw(st.integers(0, len(content)))
        content = content[:place] + piece + content[place + len(piece):]
    return content


def new_form(data, rows):
    """Return a workbook of the present form, spoiled inside its parts or as a whole."""
    content = book(rows, **data.draw(st.sampled_from([{}, {"constant_memory": True},
                                                      {"default_date_format": "dd.mm.yyyy"}])))
    if data.draw(st.booleans()):
        return spoiled(data, content)
    chosen = data.draw(st.sampled_from(["sheet1", "workbook.xml", "styles", "sharedStrings",
                                        "rels", "Content_Types"]))
    return rewritten(content, lambda name, part: (
        name, spoiled(data, part) if chosen in name else part))


def old_form(data, rows):
    """Return a workbook of the old form, spoiled."""
    return spoiled(data, old_book({"A": [[float(cell) if isinstance(cell, int) else cell
                                          for cell in row] for row in rows]}))


@QUICK
@given(st.data(), st.sampled_from(["installations", "replacements", "service_points"]))
def test_every_row_of_any_workbook_is_accounted_for(data, log):
    rows = data.draw(sheets(log))
    make = data.draw(st.sampled_from([new_form, old_form]))
    with empty_site() as site:
        site.write("service_points.csv", REGISTER)
        site.write(f"{log}_north.{'xlsx' if make is new_form else 'xls'}", make(data, rows))
        holds(site)


@QUICK
@given(st.data(), st.sampled_from(["installations", "inspections"]))
def test_any_sheet_among_others_can_be_the_one(data, log):
    """Sheets that were not spoiled are always read, whichever of them holds the log."""
    rows = data.draw(sheets(log))
    others = {"Notes": [["Please read"]], "Old": data.draw(sheets("stock"))}
    order = data.draw(st.permutations([("Log", rows), *others.items()]))
    with empty_site() as site:
        site.write(f"{log}.xlsx", books(dict(order)))
        site.write("columns.toml",
                   f'[[file]]\nmatch = "*"\nlog = "{log}"\n{IGNORED}\n')
        site.load()
        assert site.is_balanced()
        assert site.status(f"{log}.xlsx") == ("loaded", None)
