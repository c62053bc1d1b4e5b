"""A word says its meaning where it stands, once on a page, and never inside a link or a figure."""

from dash import dcc, html

from dashboard.terms import forms, mark
from etl.load.seeds import rows
from tests.dashboard.page_reader import term

MEANINGS = {row["term"]: row["meaning"] for row in rows("glossary")}


def placed(node):
    """Return the marked words of a component tree, in order."""
    if getattr(node, "className", None) == "term-place":
        return [node.children[0].children]
    children = getattr(node, "children", None)
    children = children if isinstance(children, (list, tuple)) else [children]
    return [word for child in children if hasattr(child, "children") for word in placed(child)]


def test_the_first_use_is_marked_and_no_other():
    page = mark(html.Div([
        html.P("Of each mechanism; a Mechanism, B10s and B10.", className="caption"),
        html.H2("B10 and mechanisms"), html.P("A teardown of a suspension."),
        html.P(["See ", dcc.Link("the teardown", href="/t"), " of this suspension."],
               className="context"),
    ]), MEANINGS)
    assert placed(page) == ["mechanism", "B10", "suspension"]
    caption = page.children[0]
    assert "".join(item if isinstance(item, str) else item.children[0].children
                   for item in caption.children) == "Of each mechanism; a Mechanism, B10s and B10."


def test_a_marked_word_is_tied_to_its_meaning_for_those_who_do_not_see_it():
    place = mark(html.P("late entry", className="caption"), MEANINGS).children
    button, said = place.children
    assert button.to_plotly_json()["props"]["aria-describedby"] == said.id
    assert said.children == MEANINGS["late entry"]
    assert said.role == "tooltip"


def test_every_term_is_silent_or_found_under_its_forms():
    for name in MEANINGS:
        for form in forms(name):
            assert placed(mark(html.P(f"x {form} y", className="caption"), MEANINGS)) == [form]


def marked_in(node):
    if isinstance(node, list):
        return [word for item in node for word in marked_in(item)]
    if term(node) is not None:
        return [term(node)]
    return marked_in(node["props"].get("children")) if isinstance(node, dict) else []


def test_pages_mark_the_words_of_their_edition(full):
    assert marked_in(full.layout("/")) == ["90 % range"]
    assert "B10" in marked_in(full.layout("/lives"))
    assert marked_in(full.layout("/guide")) == []
