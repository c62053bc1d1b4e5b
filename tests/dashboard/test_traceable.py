"""Every block that shows a figure says how it is known: method, rows behind it, data date."""

import re
from pathlib import Path
from urllib.parse import quote

import pytest

from dashboard.queries import edition
from tests.dashboard.page_reader import found, words

ROWS_THEMSELVES = {"Rows as loaded", "Set right while reading", "Odd, but used",
                   "Logs beyond the needed ones", "What was done last", "Refused rows"}
"""Blocks that are rows as they were loaded, each with its file; nothing is worked out."""
RULES = {"The rule, fixed before the start", "The rule", "The rule, to be fixed before the start",
         "Decided"}
"""What people wrote down or fixed beforehand."""
LISTS = {"Not taken apart yet"}
"""Hoses by name and day, each leading to its page."""
FORMS = {"Enter something about this place", "Decision", "What to look for"}
"""Where something is entered, or how to enter it."""
FREE = ROWS_THEMSELVES | RULES | LISTS | FORMS


def addresses(reader):
    with reader.app.server.app_context():
        (place,) = edition.ask("select service_point from ranking order by rank limit 1")
        (kind,) = edition.ask("""select application_class, construction from fits
            where mechanism = 'all' order by n_failures desc, 1, 2 limit 1""")
        (part,) = edition.ask("select part_number from spares order by n_places desc, 1 limit 1")
        (trial,) = edition.ask("select trial from trial_states order by trial limit 1")
        (idea,) = edition.ask("select service_point from trial_candidates order by rank limit 1")
    name = quote(place["service_point"], safe="")
    cell = "/".join(quote(text, safe="") for text in kind.values())
    return ["/", "/places", f"/places/{name}", "/lives", f"/lives/{cell}", "/vibration",
            f"/vibration?place={name}", "/teardown", "/trials", "/spares",
            f"/spares?part={quote(part['part_number'], safe='')}", "/track-record",
            "/data-health", f"/trials/{quote(trial['trial'], safe='')}",
            f"/trials/{quote(idea['service_point'], safe='')}"]


def title_of(block):
    heads = found(block, "H2") or found(block, "H3")
    return " ".join(words(heads[0]["children"])) if heads else ""


def is_marked(block):
    marks = [node for node in found(block, "Details") if node.get("className") == "how"]
    text = [" ".join(words(mark["children"])) for mark in marks]
    for said in text:
        assert "Method." in said
        assert "Data date." in said
    return bool(marks)


def test_no_figure_stands_without_a_way_to_its_method_and_rows(full):
    bare, n_marked = [], 0
    for address in addresses(full):
        page = full.layout(address)
        for block in (section["children"] for section in found(page, "Section")):
            title = title_of(block)
            shows = re.search(r"\d", " ".join(words(block)).replace(title, ""))
            if is_marked(block):
                n_marked += 1
            elif shows and title not in FREE:
                bare.append((address, title))
    assert n_marked > 30
    assert bare == []


@pytest.mark.parametrize("title", sorted(FREE - {"The rule", "Refused rows"}))
def test_a_block_that_is_let_off_exists(title):
    """A heading that was changed must not leave its block unexamined."""
    texts = "".join(path.read_text(encoding="utf-8")
                    for path in Path("dashboard").rglob("*.py"))
    assert f'"{title}"' in texts
