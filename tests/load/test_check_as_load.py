"""What `check` says would become of the rows of an ugly export becomes of them in a load."""

import datetime as dt

import pytest

from etl.load.check import check_path, write_proposal
from etl.load.trial_run import try_rows
from etl.load.typing import build_clean
from etl.load.warehouse import run_sql
from tests.load.new_workbook import Styled, book, books
from tests.load.old_workbook import Error, old_book

PLACES = "service_point,application_class\nP1,a\nP2,a\nP3,b\n"
OUT = "removed_on,service_point,reason,hose_id\n"
HEAD = OUT.strip().split(",")
DAY = dt.datetime(2020, 1, 31)
ROW = [DAY, "P1", "failed", "H1"]

UGLY = {
    "junk above and below, blank rows inside": {"replacements.csv": (
        "Hoses of the north hall,,,\nprinted 1 February,,,\n\n" + OUT
        + "2020-01-31,P1,failed,H1\n\n,,,\n2020-02-01,P2,planned,H2\n2020-02-31,P2,failed,H3\n"
        "\nend of list,,,\nchecked by the day shift,,,\n")},
    "sums between and at the end": {"replacements.xlsx": book([
        HEAD, ROW, ["Subtotal", None, 1], [DAY, "P2", "failed", "H2"], ["Total", None, None, 2],
        [], ["Grand total", None, None, 2]])},
    "ragged rows": {"replacements.csv": (
        OUT + "2020-01-31,P1,failed\n2020-01-31,P1,failed,H1,more\n2020-02-01,P2,failed,H2\n"
        '2020-02-02,P3,"fai"led,H4\n2020-02-03,P3\n')},
    "the header again on every page": {"replacements.csv": (
        OUT + "2020-01-31,P1,failed,H1\n" + OUT + "2020-02-01,P2,failed,H2\n" + OUT),
        "replacements_2.xlsx": book([HEAD, ROW, HEAD, [DAY, "P2", "worn", "H9"]])},
    "several sheets, names over two rows": {"replacements.xlsx": books({
        "Notes": [["read me"], ["please"]],
        "Out": [["Hose list"], [], HEAD, ROW, [None] * 4, [DAY, "P9", "failed", "H2"],
                [Styled(0, "yyyy-mm-dd"), "P2", "failed", "H3"]],
        "Old": [HEAD, [DAY, "P3", "failed", "H7"]]})},
    "names and marks of a site's own": {"export.csv": (
        "Position;Date removed;Reason code;Serial;Part cost;Clerk\n"
        "P1;31.01.2020;failed;0017;1.234,50;AB\nP2;01.02.2020;planed;0018;12,00;AB\n"
        "P2;32.02.2020;failed;0019;7,25;CD\nP3;03.02.2020;failed;0020;n/a;CD\n"
        "Total;;;;1261,00;\n").encode("latin-1")},
    "repeats, contradictions, rows taken back": {"replacements.csv": (
        "removed_on,service_point,reason,hose_id,row_id,deleted\n"
        "2020-01-31,P1,failed,H1,1,\n2020-01-31,P1,failed,H1,1,\n2020-02-01,P2,failed,H2,2,\n"
        "2020-02-01,P2,planned,H2,2,\n2020-02-02,P3,failed,H3,3,\n"),
        "replacements_2026-10-31.csv": (
        "removed_on,service_point,reason,hose_id,row_id,deleted\n2020-02-02,P3,failed,H3,3,yes\n"
        "2020-01-30,P1,planned,H1,1,\n2199-01-01,P1,planned,H4,4,\n")},
    "the same file under two names": {
        "replacements.csv": OUT + "2020-01-31,P1,failed,H1\n2020-01-32,P1,failed,H1\n",
        "replacements - copy.csv": OUT + "2020-01-31,P1,failed,H1\n2020-01-32,P1,failed,H1\n"},
    "marks, sentinels and texts of numbers": {"replacements.xls": old_book({"Out": [
        [*HEAD, "last_seen_good_on", "downtime_h"],
        [DAY, "P1", "failed", Error(42), "9999-12-31", "8"], [DAY, "P2", "failed", "#N/A", None, 5],
        [DAY, "P3", "failed", True, DAY, "soon"], [DAY, None, "failed", "H2", None, 5]]})},
    "one file for three logs": {
        "book.csv": "Place;Duty;In;Out;Why;Tag\nP1;a;01.01.2020;31.01.2020;failed;H1\n"
        "P2;a;01.01.2020;;;H2\nP2;a;02.01.2020;01.01.2020;failed;H3\nsum;;;;;3\n",
        "columns.toml": "".join(
            f'[[file]]\nmatch = "book.csv"\nlog = "{log}"\ndelimiter = ";"\n'
            'date_formats = ["%d.%m.%Y"]\nignore = ["*"]\n'
            f'[file.columns]\nservice_point = "Place"\n{more}' for log, more in {
                "installations": 'installed_on = "In"\nhose_id = "Tag"\n',
                "replacements": 'removed_on = "Out"\nreason = "Why"\nhose_id = "Tag"\n'
                                '[file.keep]\nOut = "[0-9]"\n'}.items())},
    "a register with faults of its own": {
        "service_points.csv": "service_point,application_class,pressure_bar\nP1,a,12\nP1,b,12\n"
        "P2,a,soon\nP2,a,soon\n,a,1\nTotal,,13\n",
        "replacements.csv": OUT + "2020-01-31,P1,failed,H1\n2020-01-31,P2,failed,H2\n"},
    "a copy whose name alone tells the log": {
        "export.csv": OUT + "2020-01-31,P1,failed,H1\n",
        "replacements - copy.csv": OUT + "2020-01-31,P1,failed,H1\n",
        "replacements.csv": OUT + "2020-01-31,P1,failed,H1\n"},
    "nothing that can be read": {"replacements.csv": "a,b\n1,2\n", "stock.csv": ""},
}


def by_check(site):
    """Return what check says of each file and log, and what it says was put right."""
    report = check_path(site.logs)
    try_rows(site.logs, report)
    rows = {(file.file, rows.log): (rows.n_kept, rows.n_superseded, rows.n_refused)
            for file in report.files for rows in file.rows}
    corrected = {(file.file, item.column_name, item.what, item.n_cells) for file in report.files
                 if file.rows for item in file.corrections}
    faults = sorted((row["source_file"], row["source_row"], row["column_name"] or "", row["reason"])
                    for row in report.refused)
    return report, (rows, corrected, faults)


def by_load(site):
    """Return the same of a load."""
    site.load()
    build_clean(site.con, site.groups)
    run_sql(site.con, "results/14_loads")
    rows = {(file, log): counts for file, log, *counts in site.rows(
        "select source_file, log, n_clean, n_superseded, n_refused from results.loads"
        " where status = 'loaded'")}
    corrected = set(site.rows(
        "select source_file, column_name, what, n_cells from raw.corrections"))
    faults = sorted(site.rows("select source_file, source_row, coalesce(column_name, ''), reason"
                              " from clean.refused"))
    return {key: tuple(counts) for key, counts in rows.items()}, corrected, faults


def write_beside(site, files):
    """Write files beside a register of places and a log that is sound."""
    site.write("service_points.csv", PLACES)
    site.write("installations.csv", "installed_on,service_point\n2019-01-01,P3\n")
    for file, content in files.items():
        site.write(file, content)


@pytest.mark.parametrize("name", UGLY)
def test_check_and_load_say_the_same(site, name):
    write_beside(site, UGLY[name])
    report, said = by_check(site)
    if write_proposal(site.logs, report) == "columns.toml":
        # Words stay unmapped, so that the proposal as written is the proposal as tried.
        _, again = by_check(site)
        assert again == said
    done = by_load(site)
    assert done[0] == said[0]
    assert done[1] == said[1]
    assert done[2] == said[2]


def test_a_file_that_may_not_be_read_is_told_and_the_others_are_tried(site, monkeypatch):
    site.write("service_points.csv", PLACES)
    site.write("replacements.csv", OUT + "2020-01-31,P1,failed,H1\n")

    def refuse(path):
        if path.name == "replacements.csv":
            raise PermissionError(13, "Permission denied", str(path))
        return path.name

    monkeypatch.setattr("etl.load.once.digest", refuse)
    report, (rows, _, _) = by_check(site)
    assert rows == {("service_points.csv", "service_points"): (3, 0, 0)}
    assert "NOT LOADABLE: replacements.csv: not readable (Permission denied)" in report.text()
    assert str(site.logs) not in report.text()
