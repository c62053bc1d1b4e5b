"""Exports of work-order systems with headings in other languages, all invented for these tests."""

import datetime as dt
import tomllib

import pytest

from etl.load.check import check_path, write_proposal
from etl.load.look import look
from etl.load.names import likeness
from etl.load.propose import guess_log
from etl.load.trial_run import try_rows
from tests.load.new_workbook import books

HEADINGS = {
    "replacements": {
        "de": {"removed_on": "Ausgebaut am", "service_point": "Einbauort", "reason": "Grund",
               "hose_id": "Schlauch-Nr.", "downtime_h": "Stillstand [h]"},
        "fr": {"removed_on": "Date de dépose", "service_point": "Repère", "reason": "Motif",
               "hose_id": "N° de série", "downtime_h": "Durée d'arrêt (h)"},
        "es": {"removed_on": "Fecha de desmontaje", "service_point": "Punto de servicio",
               "reason": "Causa", "hose_id": "Manguera", "downtime_h": "Parada (h)"},
        "no": {"removed_on": "Utbytting", "service_point": "Sted", "reason": "Årsak",
               "hose_id": "Slangenummer", "downtime_h": "Nedetid"}},
    "installations": {
        "de": {"installed_on": "Einbaudatum", "service_point": "Stelle", "hose_id": "Schlauch"},
        "fr": {"installed_on": "Posé le", "service_point": "Emplacement", "hose_id": "Flexible"},
        "es": {"installed_on": "Fecha de montaje", "service_point": "Ubicación",
               "hose_id": "Manguera"},
        "no": {"installed_on": "Montert", "service_point": "Plassering", "hose_id": "Slange"}},
    "inspections": {
        "de": {"inspected_on": "Prüfdatum", "service_point": "Einbauort", "condition": "Zustand"},
        "fr": {"inspected_on": "Contrôle du", "service_point": "Repère", "condition": "État"},
        "es": {"inspected_on": "Fecha de inspección", "service_point": "Punto",
               "condition": "Estado"},
        "no": {"inspected_on": "Kontrollert dato", "service_point": "Posisjon",
               "condition": "Tilstand"}},
}
CELLS = {"removed_on": "17.04.2025", "installed_on": "17.04.2025", "inspected_on": "17.04.2025",
         "service_point": "P-01", "reason": "x", "hose_id": "0017", "downtime_h": "1",
         "condition": "x"}


@pytest.mark.parametrize(("log", "language"),
                         [(log, language) for log in HEADINGS for language in HEADINGS[log]])
def test_headings_of_four_languages_are_proposed(site, log, language):
    names = HEADINGS[log][language]
    site.write("x.csv", ";".join(names.values()) + "\n"
               + ";".join(CELLS[ours] for ours in names) + "\n")
    entry = tomllib.loads(check_path(site.logs).proposal)["file"][0]
    assert (entry["log"], entry["columns"]) == (log, names)


def test_letters_that_are_no_letter_with_an_accent_are_compared():
    assert likeness("VÆSKE", "medium") == likeness("vaeske", "medium") == 1.0
    assert likeness("Område", "area") == 1.0


def test_logs_that_fit_in_as_many_columns_are_told_apart_by_their_names():
    # "Dépose" comes near "pose", the word for fitting, but is the word for taking out.
    looks = [look(name, [(cell, 1)], 1, 1) for name, cell in
             (("Dépose", "2025-01-01"), ("Repère", "P"), ("Motif", "x"), ("Flexible", "1"))]
    found = guess_log("x.csv", looks)
    assert found is not None
    assert found.name == "replacements"


MIXED = """Werk Süd;;
Ausgebaut am;Einbauort;Grund
03.04.2025;P-01;failed
17.04.2025;P-02;failed
offen;P-03;failed
folgt;P-04;failed
"""


def test_a_required_day_is_proposed_although_some_of_its_cells_are_no_days(site):
    site.write("x.csv", MIXED)
    report = check_path(site.logs)
    entry = tomllib.loads(report.proposal)["file"][0]
    assert entry["columns"]["removed_on"] == "Ausgebaut am"
    assert entry["date_formats"] == ["%d.%m.%Y"]
    assert "by its name or its cells alone" in report.proposal
    try_rows(site.logs, report)
    rows = report.files[0].rows[0]
    assert (rows.n_kept, rows.n_superseded, rows.n_refused) == (2, 0, 2)
    assert [row["value"] for row in report.refused] == ["offen", "folgt"]
    assert [number for number, _ in rows.preview] == [3, 4]


def test_the_only_column_of_days_is_proposed_for_a_required_day(site):
    site.write("x.csv", "Completed,Location,Cause\n2025-01-31,L1,broken\n")
    report = check_path(site.logs)
    assert tomllib.loads(report.proposal)["file"][0]["columns"]["removed_on"] == "Completed"
    site.write("x.csv", "Completed,Started,Location,Cause\n2025-01-31,2025-01-30,L1,broken\n")
    assert "removed_on" not in tomllib.loads(check_path(site.logs).proposal)["file"][0]["columns"]


def test_every_sheet_of_an_unknown_workbook_is_looked_at(site):
    day = dt.datetime(2024, 1, 5)
    site.write("x.xlsx", books({
        "Portada": [["Informe"], ["Planta norte"]],
        "Altas, norte": [["Fecha de montaje", "Punto", "Manguera"], [day, "P-1", "0001"]],
        "Bajas": [["Fecha de desmontaje", "Punto", "Causa", "Manguera"],
                  [day, "P-1", "failed", "0001"]]}))
    report = check_path(site.logs)
    assert report.files[0].logs == ("installations?", "replacements?")
    entries = tomllib.loads(report.proposal)["file"]
    assert [(item["log"], item["sheet"]) for item in entries] == [
        ("installations", "Altas, norte"), ("replacements", "Bajas")]
    write_proposal(site.logs, report)
    site.load()
    assert site.rows("select log, status from raw.loads order by log") == [
        ("installations", "loaded"), ("replacements", "loaded")]


def test_a_text_file_that_is_named_is_looked_at_whatever_its_name(site):
    path = site.write("jobs.txt", "Removed\tPlace\tWhy\n2025-01-31\tL1\tbroken\n")
    assert check_path(path).files[0].logs == ("replacements?",)


def test_a_word_for_all_rows_is_asked_for_where_no_column_holds_it(site):
    site.write("x.csv", "Maschine;Ablesedatum;Betriebsstunden\nM1;01.02.2025;1\nM2;15.03.2025;9\n")
    assert "below [file.constants] its word for all rows: run_hours, cycles" in check_path(
        site.logs).proposal
