"""The guide describes every column, every method and every page, and names a source for each."""

import csv
import re
from pathlib import Path

import dash

from dashboard.parts import guide as parts_guide
from dashboard.queries import edition, guide
from dashboard.shell import nav_pages
from dashboard.words.guide import DECLARATIONS, JOURNEYS
from etl.load.columns import LOGS
from etl.load.mapping import parse_mapping
from tests.bench.goal_rows import Goal, keep
from tests.dashboard.page_reader import Reader

ROOT = Path(__file__).resolve().parents[2]
SEEDS = ROOT / "sql" / "seeds"


def seed(name):
    with (SEEDS / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_page_shows_ways_words_methods_and_columns(full):
    text = full.text("/guide")
    for part in ("Three ways through", "What the words mean", "The time of one hose at one place.",
                 "S(t) = exp(−(t/η)^β)", "Source: a handbook", "part_number*", "stock · 1 columns"):
        assert part in text


def test_what_no_log_says_is_declared_as_a_load_understands_it(full):
    text = full.text("/guide")
    assert "Renamed places and swapped hoses" in text
    assert DECLARATIONS.splitlines()[0] in text
    found = parse_mapping(DECLARATIONS)
    assert found.renamed_places
    ((one,), (other,)) = zip(*(swap.places for swap in found.swap), strict=True)
    assert one in found.renamed_places.values()
    assert one != other
    example = re.search(r"```toml\n(.*?)```", (ROOT / "README.md").read_text("utf-8"), re.DOTALL)
    assert DECLARATIONS.splitlines()[-2] in example[1]
    assert parse_mapping(example[1]).swap == found.swap


def test_the_goals_are_shown_with_what_was_measured_and_missed(full):
    text = full.text("/guide")
    rows = guide.goals()
    assert {"met"} < {row["word"] for row in rows} <= {"met", "NOT MET", "-"}
    n_wanted = sum(row["word"] != "-" for row in rows)
    n_met = sum(row["word"] == "met" for row in rows)
    assert f"{n_met} of {n_wanted} figures with a goal meet it" in text
    for row in rows:
        assert row["what"] in text
        assert parts_guide.figure(row["figure"]) in text
        assert parts_guide.wanted(row["wanted"]) in text


def test_a_goal_measured_again_takes_the_place_of_its_figures(tmp_path):
    path = tmp_path / "goals.csv"
    keep("G10", [Goal("some error", 0.3, at_most=0.2)], "quick", path)
    keep("G2", [Goal("a share", 0.9, at_least=0.87), Goal("a size", 5.0)], "quick", path)
    keep("G10", [Goal("some error", 0.1, at_most=0.2)], "full", path)
    assert path.read_text().splitlines()[1:] == [
        "G2,a share,0.9,>= 0.87,met,quick", "G2,a size,5,,-,quick",
        "G10,some error,0.1,<= 0.2,met,full"]


def test_an_edition_without_any_of_it_says_so_in_words(empty):
    assert "how to read them" in empty.text("/guide")


def test_every_formula_belongs_to_a_method_and_has_a_source():
    methods = {row["key"] for row in seed("method_notes")}
    for row in seed("formulas"):
        assert row["key"] in methods
        assert row["formula"].strip()
        assert row["meaning"].strip()
        assert re.search(
            r"\(\d{4}\)|Handbook|vignette|common practice|definition|follows|own model|judgement",
            row["source"]), row


def test_glossary_terms_are_unique_and_in_order():
    terms = [row["term"].lower() for row in seed("glossary")]
    assert terms == sorted(set(terms))


def test_steps_begin_on_pages_that_exist(full):
    paths = {page["path"] for page in dash.page_registry.values()}
    for journey in JOURNEYS:
        for step in journey.steps:
            assert step.href in paths
    assert {"/guide"} <= {page["path"] for page in nav_pages()}


def test_the_demo_edition_describes_every_column(demo_store):
    with Reader(demo_store).app.server.app_context():
        found = [tuple(row.values()) for row in edition.ask(
            "select log, column_name, kind, unit, is_required from log_columns "
            "order by log, position")]
        keys = {row["key"] for row in edition.ask("select distinct key from formulas")}
    wanted = [(log.name, c.name, c.kind, c.unit, c.is_required)
              for log in sorted(LOGS.values(), key=lambda log: log.name) for c in log.columns]
    assert found == wanted
    assert {"b10", "relative_rate", "forecast", "preventive_age", "spares"} <= keys


def test_the_guide_is_there_before_anything_is_loaded(tmp_path):
    nothing = Reader(tmp_path)
    text = nothing.text("/guide")
    for part in ("A place where one hose sits.", "S(t) = exp(−(t/η)^β)", "removed_on*"):
        assert part in text
    assert "Load files" in nothing.text("/lives")  # the way on from a page that has nothing yet
