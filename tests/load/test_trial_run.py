import pytest

from etl.errors import InputError
from etl.load.check import check_path
from etl.load.trial_run import try_rows

PLACES = "service_point,application_class,pressure_bar\nP-001,steam,12\nP-002,steam,145 psi\n"
EXPORT = """Report of the works;;;;;
Pos.;Date removed;Reason code;Serial;Cost of part;Clerk
P-001;31.01.2020;failed;0017;1.234,50;AB
P-002;01.02.2020;planed;0018;12,00;AB
P-002;32.02.2020;failed;0019;7,25;CD
P-003;02.02.2020;scheduled;0020;7,25;CD
P-001;03.02.2020;failed
Total;;;;1261,00;
"""


@pytest.fixture
def tried(site):
    def try_files(**files):
        for name, content in files.items():
            site.write(name.replace("_csv", ".csv").replace("_toml", ".toml"), content)
        report = check_path(site.logs)
        try_rows(site.logs, report)
        return report
    return try_files


def told(report):
    return [(row["source_file"], row["source_row"], row["column_name"], row["value"])
            for row in report.refused]


def test_rows_are_tried_under_the_proposed_mapping(tried):
    report = tried(service_points_csv=PLACES, export_csv=EXPORT)
    assert told(report) == [
        ("export.csv", 4, "reason", "planed"),
        ("export.csv", 5, "removed_on", "32.02.2020"),
        ("export.csv", 6, "service_point", "P-003"),
        ("export.csv", 7, None, "P-001;03.02.2020;failed")]
    export, places = report.files
    [rows] = export.rows
    assert (rows.log, rows.n_kept, rows.n_superseded, rows.n_refused) == ("replacements", 1, 0, 4)
    assert rows.preview == ((3, {
        "removed_on": "2020-01-31", "service_point": "P-001", "reason": "failed",
        "hose_id": "0017", "part_cost": "1234.50"}),)
    assert "rows of totals at the end left out" in [item.what for item in export.corrections]
    assert [(item.column_name, item.n_cells) for item in places.corrections] == [
        ("pressure_bar", 1)]
    # The unreadable record is one of the refused ones and counts once.
    assert report.n_refused == len(report.refused) + len(export.messages)


def test_an_unknown_word_is_told_with_the_nearest_known_one(tried):
    report = tried(service_points_csv=PLACES, export_csv=EXPORT)
    assert report.refused[0]["remedy"].startswith("Did you mean planned? Use one of failed, ")
    assert '# "planed" = "planned"   # 1 row; nearest known word: planned' in report.proposal
    assert "row 4: reason 'planed' is not one of the known words. Did you mean planned?" in (
        report.text())


def test_one_log_alone_is_tried_without_its_places(tried):
    report = tried(replacements_csv="removed_on,service_point,reason\n2020-01-31,P1,failed\n"
                   "2020-01-32,P1,failed\n")
    assert told(report) == [("replacements.csv", 3, "removed_on", "2020-01-32")]
    assert "Places were not checked" in report.text()


def test_logs_without_a_day_are_tried_too(tried):
    report = tried(service_points_csv=PLACES + ",steam,1\n")
    assert told(report) == [("service_points.csv", 4, "service_point", None)]
    assert report.files[0].rows[0].n_kept == 2


def test_a_mapping_that_cannot_be_used_is_told(tried):
    with pytest.raises(InputError, match="words.hazards turns 'hott' into 'warm'"):
        tried(service_points_csv=PLACES, columns_toml="""
[[file]]
match = "service_points.csv"
log = "service_points"
[file.words.hazards]
hott = "warm"
""")


def test_hoses_that_changed_places_are_tried_with_the_others(tried):
    report = tried(service_points_csv=PLACES, installations_csv=(
        "installed_on,service_point,hose_id\n2020-01-01,P-001,A\n2020-01-01,P-002,B\n"),
        replacements_csv="removed_on,service_point,reason,hose_id\n2021-01-01,P-002,failed,A\n",
        columns_toml='[[swap]]\non = 2020-06-01\nplaces = ["P-001", "P-002"]\n'
        'hoses = ["A", "B"]\n')
    assert told(report) == []


def test_many_faults_are_cut_short_on_a_terminal_only(tried):
    report = tried(service_points_csv=PLACES + ",steam,1\n" * 30)
    assert len(report.refused) == 30
    assert "and 10 more" in report.text()
    assert len(report.as_dict()["refused"]) == 30
