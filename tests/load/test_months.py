"""Days with names of months that are not English: declared in the mapping, proposed by check.

Names of months: Unicode CLDR 49, months of the Gregorian calendar, abbreviated and wide.
"""

import datetime as dt

import pytest

from etl.errors import InputError
from etl.load.check import check_path
from etl.load.mapping import parse_mapping
from etl.load.months import ENGLISH
from etl.load.seeds import rows
from etl.load.trial_run import try_rows
from etl.load.typing import build_clean

PLACES = "service_point,application_class\nP1,a\n"
ENTRY = '[[file]]\nmatch = "installations.csv"\nlog = "installations"\ndelimiter = ";"\n'


def days(site, cells, mapping):
    site.write("service_points.csv", PLACES)
    site.write("installations.csv", "installed_on;service_point\n" + "".join(
        f"{cell};P1\n" for cell in cells))
    site.write("columns.toml", mapping)
    site.load()
    build_clean(site.con, site.groups, dt.date(2026, 1, 1))
    return [str(day) for day, in site.rows(
        "select installed_on from clean.installations order by source_row")]


@pytest.mark.parametrize(("cell", "form", "months", "day"), [
    ("3. janv. 2020", "%d. %b %Y", '"janv." = 1', "2020-01-03"),
    ("3. févr 2020", "%d. %b %Y", '"févr." = 2', "2020-02-03"),
    ("3. FÉVR. 2020", "%d. %B %Y", '"févr" = 2', "2020-02-03"),
    ("3. fe\u0301vr. 2020", "%d. %b %Y", '"févr" = 2', "2020-02-03"),  # accent as a sign of its own
    ("03.Mär.20", "%d.%b.%y", '"Mär" = 3', "2020-03-03"),
    ("03.März.2020 14:30:00", "%d.%B.%Y %H:%M:%S", '"März" = 3', "2020-03-03"),
    ("3-ene.-20", "%d-%b-%y", '"ene" = 1', "2020-01-03"),
    ("3 de marzo de 2020", "%d de %B de %Y", '"marzo" = 3', "2020-03-03"),
    ("03-Jan-20", "%d-%b-%y", '"ene" = 1', "2020-01-03"),  # English names stay known
    ("03-Mai-2020", "%d-%b-%Y", '"mai" = 5', "2020-05-03"),
    ("3-ene-70", "%d-%b-%y", '"ene" = 1', "1970-01-03"),
    # Letters whose small forms two programs write unlike, and numbers that are one sign.
    ("03-\u0130YL-2020", "%d-%b-%Y", '"\u0130yl" = 7', "2020-07-03"),
    ("3 \u039c\u0386\u0399\u039f\u03a3 2020", "%d %B %Y", '"\u039c\u03ac\u03b9\u03bf\u03c2" = 5',
     "2020-05-03"),
    ("3 \u2167 2020", "%d %b %Y", '"\u2167" = 8', "2020-08-03"),
])
def test_a_declared_name_is_read(site, cell, form, months, day):
    assert days(site, [cell], ENTRY + f'date_formats = ["{form}"]\n[file.months]\n{months}\n') == [
        day]


@pytest.mark.parametrize("cell", ["3. juil. 2020", "3. 2020", "3. . 2020", "3. fé-vr 2020",
                                  "32. janv. 2020", "x 3. janv. 2020", "3. 01 2020"])
def test_an_undeclared_name_or_none_is_refused_with_what_to_declare(site, cell):
    mapping = ENTRY + 'date_formats = ["%d. %b %Y"]\n[file.months]\n"janv" = 1\n'
    assert days(site, [cell], mapping) == []
    [(reason, remedy)] = site.rows("select reason, remedy from clean.refused")
    assert reason == "is not a date"
    assert "months where their names are not English" in remedy


@pytest.mark.parametrize(("months", "said"), [
    ('"mar" = 3\n"Mar." = 4', "stands for no month, or for two"), ('"x" = 13', "file.1.months.x"),
    ('"." = 1', "stands for no month"), ('"x" = "May"', "file.1.months.x"),
])
def test_names_that_cannot_be_used_are_told(months, said):
    with pytest.raises(InputError, match=said):
        parse_mapping(ENTRY + f"[file.months]\n{months}\n")


@pytest.mark.parametrize(("cells", "day"), [
    (["3 janv. 2020", "17 févr. 2020", "2 août 2020"], "2020-01-03"),
    (["3-janv.-20", "17-févr.-20"], "2020-01-03"),
    (["3. Mär 2020", "17. Okt 2020"], "2020-03-03"),
    (["03.Mär.2020", "17.Okt.2020"], "2020-03-03"),
    (["3. März 2020", "17. Dez. 2020"], "2020-03-03"),
    (["03-ene-20", "17-abr-20", "17-dic-20"], "2020-01-03"),
    (["3 de marzo de 2020", "17 de abril de 2020"], "2020-03-03"),
    (["03/mai/2020 13:05", "17/ago/2020 00:00"], "2020-05-03"),
    (["3. mars 2020", "17. des. 2020"], "2020-03-03"),
    (["3 March 2020", "17 December 2020"], "2020-03-03"),
    (["3. kwi 2020", "17. paź 2020"], "2020-04-03"),
])
def test_the_proposed_names_read_the_file(site, cells, day):
    """And a month of the same language that the file does not hold yet."""
    site.write("service_points.csv", PLACES)
    path = site.write("installations.csv", "installed_on;service_point\n" + "".join(
        f"{cell};P1\n" for cell in cells))
    report = check_path(site.logs)
    try_rows(site.logs, report)
    assert report.refused == []
    [rows] = report.files[0].rows
    assert (rows.n_kept, rows.preview[0][1]["installed_on"]) == (len(cells), day)
    path.unlink()
    assert days(site, cells[:1], report.proposal)[0] == day


def test_all_months_of_the_language_are_proposed_once(site):
    site.write("installations.csv", "installed_on;service_point\n3 janv. 2020;P1\n"
               "17 févr. 2020;P1\n")
    months = parse_mapping(check_path(site.logs).proposal).file[0].months
    assert (months["déc"], months["août"], len(months)) == (12, 8, 10)  # oct, nov: English, too


def test_words_that_are_no_months_make_no_day(site):
    site.write("parts.csv", "part_number,construction\nN 12,mars rouge 3\nN 13,avr 4 x\n")
    assert "months" not in check_path(site.logs).proposal


def test_no_name_stands_for_two_months_in_any_language():
    found = dict(ENGLISH)
    for row in rows("months"):
        names = row["names"].split()
        assert len(names) == 12
        for number, name in enumerate(names, start=1):
            assert found.setdefault(name, number) == number, name
