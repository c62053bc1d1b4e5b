"""Whatever a file holds, every record of it is accounted for, and no error goes unexplained."""

import datetime as dt
import tempfile
import tomllib
from contextlib import contextmanager
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from etl.errors import InputError
from etl.load import warehouse
from etl.load.check import check_path
from etl.load.mapping import Mapping, parse_mapping
from etl.load.typing import build_clean, build_lives
from tests.load.conftest import Site
from tests.load.hostile import BOUNDED, LOG, mappings, text_files
from tests.sql.tiny import faulty

REGISTER = "service_point,application_class,records_from\nP1,steam,2019-01-01\nP2,steam,\n"
RULES = ("clean_balance", "clean_refused_reason", "lives_complete", "lives_stays_apart")


@contextmanager
def empty_site():
    with tempfile.TemporaryDirectory() as folder, warehouse.connect() as con:
        (Path(folder) / "logs").mkdir()
        yield Site(Path(folder) / "logs", Path(folder) / "store", con)


def outcome(function, *given):
    """Return the result, or the message of an error that a user may see."""
    try:
        return function(*given)
    except InputError as exc:
        return str(exc)


def holds(site):
    """Build everything up to lives and check the account of every row."""
    site.load()
    assert site.is_balanced()
    assert site.rows("select message from raw.loads where status = 'refused' and"
                     " not regexp_full_match(message, '[^\\n]+[.?]')") == []
    as_of = outcome(build_clean, site.con, site.groups)
    if isinstance(as_of, str):
        assert "no readable date" in as_of
        return
    build_lives(site.con, as_of)
    for rule in RULES:
        assert faulty(site.con, rule) == [], rule
    assert dt.date(1950, 1, 1) <= as_of <= dt.date(2199, 12, 31)


@BOUNDED
@given(st.data(), LOG)
def test_every_record_of_any_file_is_accounted_for(data, log):
    with empty_site() as site:
        site.write("service_points.csv", REGISTER)
        site.write(f"{log}_north.csv", data.draw(text_files(log)))
        holds(site)


@BOUNDED
@given(st.data(), LOG)
def test_every_record_is_accounted_for_under_any_mapping(data, log):
    with empty_site() as site:
        site.write("service_points.csv", REGISTER)
        site.write("north.csv", data.draw(text_files(log)))
        site.write("columns.toml", data.draw(mappings(log, "north.csv")))
        holds(site)


@BOUNDED
@given(st.data(), LOG)
def test_any_file_can_be_looked_at_and_what_is_proposed_can_be_read(data, log):
    with empty_site() as site:
        site.write(data.draw(st.sampled_from(["north.csv", f"{log}.csv", "x.tsv"])),
                   data.draw(text_files(log)))
        report = check_path(site.logs)
        assert isinstance(parse_mapping(report.proposal), Mapping)
        assert isinstance(report.as_dict(), dict)
        assert report.text()


TOML = st.recursive(
    st.one_of(st.text(max_size=5), st.integers(-3, 99), st.booleans(), st.none(),
              st.sampled_from(["installations", "installed_on", "%d.%m.%Y", "(.*)", "psi", ","])),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(
        st.sampled_from([*Mapping.model_fields, "match", "log", "columns", "words", "units", "on",
                         "skip", "extract", "places", "hoses", "reason", "a b", "delimiter"]),
        inner, max_size=4)), max_leaves=12)


def toml(value):
    """Write a value as TOML on one line."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{toml(key)} = {toml(item)}" for key, item in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    if isinstance(value, bool) or value is None:
        return str(bool(value)).lower()
    if isinstance(value, int):
        return str(value)
    return '"' + "".join(f"\\U{ord(sign):08x}" for sign in value) + '"'


@BOUNDED
@given(st.dictionaries(st.sampled_from([*Mapping.model_fields, "fille"]), TOML, max_size=3),
       st.text(max_size=3))
def test_any_mapping_file_is_read_or_refused_in_a_sentence(content, stray):
    text = "\n".join(f"{key} = {toml(value)}" for key, value in content.items()) + "\n"
    for tried in (text, text + stray):
        found = outcome(parse_mapping, tried)
        assert isinstance(found, Mapping) or found.startswith("columns.toml: ")
    assert tomllib.loads(text) is not None
