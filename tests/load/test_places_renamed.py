"""Places with a new name and hoses that changed places, as the mapping declares them."""

import datetime as dt

import pytest

from etl.errors import InputError
from etl.load.mapping import parse_mapping
from etl.load.typing import build_clean, build_lives
from tests.load.conftest import DAY

REGISTER = "service_point,application_class\nP-1,a\nP-2,a\n"
IN = "installed_on,service_point,hose_id\n2020-01-01,Pump 1,A\n2020-06-01,P-2,B\n"
OUT = "removed_on,service_point,reason,hose_id\n2023-01-01,P-2,failed,A\n"
RENAMED = '[renamed_places]\n"Pump 1" = "PUMP-1"\n"PUMP-1" = "P-1"\n'
SWAP = '[[swap]]\non = 2022-01-01\nplaces = ["P-1", "P-2"]\nhoses = ["A", "B"]\n'
LIVES = ("select hose_id, service_point, installed_on::varchar, removed_on::varchar,"
         " entry_age_days, kind from lives.lives order by hose_id, installed_on")


def build(site, mapping, register=REGISTER, installed=IN, removed=OUT):
    site.write("columns.toml", mapping)
    site.write("service_points.csv", register)
    site.write("installations.csv", installed)
    site.write("replacements.csv", removed)
    site.load(DAY)
    build_lives(site.con, build_clean(site.con, site.groups, dt.date(2024, 1, 1)))
    assert site.is_balanced()
    from etl.load.warehouse import files_of
    [balance] = [file for file in files_of("checks") if file.stem == "clean_balance"]
    assert site.rows(balance.read_text()) == []


def refused(site):
    return site.rows("select log, source_row, column_name, value, reason from clean.refused"
                     " order by all")


def test_an_old_name_leads_to_the_present_place_through_every_step(site):
    build(site, RENAMED, removed=OUT.splitlines()[0] + "\n2021-03-01,PUMP-1,failed,A\n")
    assert refused(site) == []
    assert site.rows(LIVES)[0] == ("A", "P-1", "2020-01-01", "2021-03-01", 0.0, "failed")
    assert site.rows("select service_point from raw.installations order by source_row") == [
        ("Pump 1",), ("P-2",)]


ADVICE = ("columns.toml leads this name to {0}, which the register of service points does not hold"
          "{1}. Correct that name in columns.toml, or add {0} to service_points.")


def advised(site):
    return set(site.rows("select value, remedy from clean.refused"))


@pytest.mark.parametrize(("register", "led_to", "nearest"), [
    (REGISTER, "P 1", " (nearest there: P-1, P-2)"),
    (REGISTER, "P-11", " (nearest there: P-1, P-2)"),
    (REGISTER, "boiler house", ""), (REGISTER + "P1,a\n", "P 1", " (nearest there: P-1, P1, P-2)"),
])
def test_a_new_name_that_the_register_does_not_hold_is_told_as_such(
        site, register, led_to, nearest):
    """The old name is no slip: to add it, or to write it otherwise, would be wrong."""
    build(site, f'[renamed_places]\n"Pump 1" = "{led_to}"\n', register,
          removed=OUT + "2023-01-02, Pump 1\u00a0,failed,A\n")
    said = ADVICE.format(led_to, nearest)
    assert advised(site) == {("Pump 1", said), (" Pump 1\u00a0", said)}


def test_words_of_one_file_that_lead_nowhere_are_told_alike(site):
    build(site, '[[file]]\nmatch = "inst*"\nlog = "installations"\n[file.words.service_point]\n'
          '"Pump 1" = "P_1"\n', removed=OUT.split("\n")[0])
    assert advised(site) == {("Pump 1", ADVICE.format("P_1", " (nearest there: P-1, P-2)", "P_1"))}


def test_a_new_name_whose_own_row_was_refused_leads_to_that_row(site):
    build(site, '[renamed_places]\n"Pump 1" = "P-3"\n', register=REGISTER + "P-3,\n")
    assert ("Pump 1", "Correct service_points.csv row 4, which was refused.") in advised(site)


def test_a_swap_of_places_that_are_led_nowhere_says_so(site):
    build(site, '[renamed_places]\n"Old" = "P-12"\n' + SWAP.replace("P-2", "Old"),
          installed=IN.replace("Pump 1", "P-1"))
    assert ("Old", ADVICE.format("P-12", " (nearest there: P-1, P-2)", "P-12")) in advised(site)


def test_names_are_told_apart_by_their_case(site):
    build(site, RENAMED, installed=IN.replace("Pump 1", "pump 1"), removed=OUT.split("\n")[0])
    assert refused(site) == [
        ("installations", 2, "service_point", "pump 1", "is no known service point")]


def test_an_old_name_in_the_register_is_renamed_there_too(site):
    build(site, RENAMED, register=REGISTER.replace("P-1", "PUMP-1"))
    assert site.rows("select service_point from clean.service_points order by all") == [
        ("P-1",), ("P-2",)]
    assert refused(site) == []


def test_an_old_name_beside_the_new_one_in_the_register_is_refused_alone(site):
    build(site, RENAMED, register=REGISTER + "PUMP-1,b\n")
    assert refused(site) == [("service_points", 4, "service_point", "PUMP-1",
                              "is the old name of a place that has a row of its own")]
    assert site.rows("select service_point, application_class from clean.service_points"
                     " order by all") == [("P-1", "a"), ("P-2", "a")]
    assert site.rows("select count(*) from lives.lives") == [(2,)]


def test_words_of_one_file_go_before_the_names_of_all(site):
    build(site, RENAMED + '[[file]]\nmatch = "inst*"\nlog = "installations"\n'
          '[file.words.service_point]\n"Pump 1" = "P-2"\n', removed=OUT.split("\n")[0])
    assert {row[1] for row in site.rows(LIVES)} == {"P-2"}


def test_hoses_that_changed_places_keep_their_age(site):
    build(site, RENAMED + SWAP)
    assert refused(site) == []
    assert site.rows(LIVES) == [
        ("A", "P-1", "2020-01-01", "2022-01-01", 0.0, "suspended"),
        ("A", "P-2", "2022-01-01", "2023-01-01", 731.0, "failed"),
        ("B", "P-2", "2020-06-01", "2022-01-01", 0.0, "suspended"),
        ("B", "P-1", "2022-01-01", None, 579.0, "suspended")]
    assert site.rows("select source_file, log, n_records, status from raw.loads"
                     " where source_file = 'columns.toml' order by log") == [
        ("columns.toml", "installations", 3, "loaded"),
        ("columns.toml", "replacements", 3, "loaded")]


def test_hoses_without_tags_keep_their_age_too(site):
    build(site, RENAMED + SWAP.replace('hoses = ["A", "B"]\n', ""),
          installed=IN.replace(",A\n", ",\n").replace(",B\n", ",\n"),
          removed=OUT.replace("failed,A", "failed,"))
    assert refused(site) == []
    assert [(row[1], row[4], row[5]) for row in site.rows(LIVES)] == [
        ("P-1", 0.0, "suspended"), ("P-2", 731.0, "failed"), ("P-2", 0.0, "suspended"),
        ("P-1", 579.0, "suspended")]


def test_a_swap_by_old_names_is_one_of_the_places(site):
    build(site, RENAMED + SWAP.replace('"P-1"', '"Pump 1"'))
    assert refused(site) == []
    assert len(site.rows(LIVES)) == 4


def test_a_swap_declared_for_two_folders_counts_once(site):
    site.write("north/columns.toml", RENAMED + SWAP + "# another one\n")
    site.write("north/parts.csv", "part_number,construction\nN,c\n")
    build(site, RENAMED + SWAP)
    assert site.rows("select count(*) from raw.loads where source_file = 'columns.toml'") == [(4,)]
    assert len(site.rows(LIVES)) == 4


@pytest.mark.parametrize(("text", "said"), [
    ('[renamed_places]\na = "b"\nb = "a"\n', "is renamed in a circle"),
    ('[renamed_places]\na = " "\n', "names no place"),
    ('[[swap]]\non = 2022-01-01\nplaces = ["P"]\n', "at least 2 items"),
    ('[[swap]]\non = 2022-01-01\nplaces = ["P", "P"]\n', "must differ"),
    ('[[swap]]\non = 2022-01-01\nplaces = ["P", "Q"]\nhoses = ["A"]\n', "hoses names the hose"),
    ('[[swap]]\nday = 2022-01-01\nplaces = ["P", "Q"]\n', "Known: on, places, hoses"),
    ('[[swap]]\non = "soon"\nplaces = ["P", "Q"]\n', "date"),
    ('[renamed_place]\na = "b"\n', "Did you mean 'renamed_places'?"),
])
def test_declarations_that_cannot_be_used_say_why(text, said):
    with pytest.raises(InputError, match=r"^columns\.toml: ") as caught:
        parse_mapping(text)
    assert said in str(caught.value)
