"""The invented fleet's logs: same seed, same bytes; what is planted is in the files."""

import csv
import importlib.util
import sys
import tomllib
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from openpyxl import load_workbook

from demo_fleet.make_fleet import make_fleet

ESTWATER = "estwater_hose_orders_2026-10-31.csv"
HAVERLUND = "haverlund_hose_book_2026-10-31.xlsx"


@pytest.fixture(scope="module")
def fleet(tmp_path_factory):
    folder = tmp_path_factory.mktemp("logs")
    return folder, make_fleet(folder)


def content(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def rows(path, encoding="utf-8", delimiter=","):
    with path.open(encoding=encoding, newline="") as file:
        return list(csv.DictReader(file, delimiter=delimiter))


def planted(truth, kind):
    return {item["file"]: item["n_rows"] for item in truth["planted_rows"]
            if item["kind"] == kind}


def found(folder, is_so):
    """Count the rows of the CSV event files for which a test holds, by file."""
    counts = Counter()
    for path in folder.glob("*.csv"):
        if path.name.startswith(("installations", "replacements", "estwater")):
            form = ("cp1252", ";") if path.name == ESTWATER else ("utf-8", ",")
            n_rows = sum(bool(is_so(row)) for row in rows(path, *form))
            counts[path.name] += n_rows
    return {name: n_rows for name, n_rows in counts.items() if n_rows}


def day_of(row):
    return next(row[name] for name in ("Day", "removed_on", "installed_on") if name in row)


def year_of(row):
    return next((int(part) for part in day_of(row).replace("/", "-").replace(".", "-").split("-")
                 if len(part) == 4), None)


def without_book(counts):
    return {name: n_rows for name, n_rows in counts.items() if name != HAVERLUND}


def test_same_seed_gives_the_same_bytes(fleet, tmp_path):
    make_fleet(tmp_path)
    assert content(tmp_path) == content(fleet[0])


def test_another_seed_gives_another_fleet(fleet, tmp_path):
    make_fleet(tmp_path, seed=7, scale=0.2)
    ours, theirs = content(fleet[0]), content(tmp_path)
    assert ours.keys() == theirs.keys()
    assert [name for name in ours if ours[name] == theirs[name]] == [
        name for name in ours if name in ("columns.toml", "constructions.csv")]


def test_loaded_by_its_path_it_makes_the_same_logs(fleet, tmp_path):
    path = Path(sys.modules[make_fleet.__module__].__file__)
    spec = importlib.util.spec_from_file_location("fleet_by_path", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules["fleet_by_path"] = module
    spec.loader.exec_module(module)
    module.make_fleet(tmp_path)
    assert content(tmp_path) == content(fleet[0])


def test_the_fleet_has_the_size_it_says(fleet):
    folder, truth = fleet
    register = rows(folder / "service_points.csv")
    names = [row["service_point"] for row in register]
    assert len(set(names)) == len(names) == truth["n_places"] == 1204
    assert {row["site"] for row in register} == {"Alderbeck", "Corriemoor", "Estwater",
                                                 "Haverlund"}
    assert len({row["application_class"] for row in register}) == 9
    assert 5000 <= truth["n_hoses"] <= 8000
    assert 2000 <= truth["n_failures"] <= 3500
    hoses = truth["hoses"]
    assert truth["n_in_service"] == hoses["reason"].count("in service")
    assert truth["n_stays"] == sum(hoses["is_recorded"])


@pytest.mark.parametrize("scale", [0.5, 2.0, pytest.param(5.0, marks=pytest.mark.slow)])
def test_scale_multiplies_the_places(tmp_path, scale):
    truth = make_fleet(tmp_path, scale=scale)
    assert truth["n_places"] == pytest.approx(1204 * scale, rel=0.05)
    assert len(rows(tmp_path / "service_points.csv")) == truth["n_places"]


def test_every_fitted_part_and_place_is_in_its_register(fleet):
    folder, _ = fleet
    parts = {row["part_number"] for row in rows(folder / "parts.csv")}
    built = {(row["construction"], row["dn"]) for row in rows(folder / "constructions.csv")}
    assert {(row["construction"], row["dn"]) for row in rows(folder / "parts.csv")} <= built
    fitted = {row["part_number"] for path in folder.glob("installations_*.csv")
              for row in rows(path)}
    assert len(fitted) > 30
    assert fitted - {""} <= parts
    points = {row["service_point"] for row in rows(folder / "service_points.csv")}
    assert {row["service_point"] for row in rows(folder / "trials.csv")} <= points
    assert {row["service_point"] for row in rows(folder / "inspections.csv")} <= points


@pytest.mark.parametrize(("kind", "is_so"), [
    ("missing_date", lambda row: day_of(row) == ""),
    ("ambiguous_date", lambda row: "Day" not in row and "/" in day_of(row)),
    ("future_date", lambda row: (year_of(row) or 0) > 2026),
    ("date_before_1950", lambda row: year_of(row) == 1900),
    ("negative_cost",
     lambda row: (row.get("labour_cost") or row.get("Work £") or "0").startswith("-")),
    ("number_not_readable", lambda row: row.get("downtime_h") == "half a shift"),
    ("unknown_word", lambda row: "see note" in (row.get("reason"), row.get("Cause"))),
    ("deletion", lambda row: row.get("deleted") == "yes"),
])
def test_planted_rows_are_in_the_files(fleet, kind, is_so):
    folder, truth = fleet
    wanted = without_book(planted(truth, kind))
    assert wanted
    assert found(folder, is_so) == wanted


def test_unknown_places_are_in_the_files(fleet):
    folder, truth = fleet
    points = {row["service_point"] for row in rows(folder / "service_points.csv")}

    def is_so(row):
        return (row.get("service_point") or row.get("Asset")).strip() not in points
    assert found(folder, is_so) == without_book(planted(truth, "unknown_service_point"))


def test_repeats_are_equal_rows_and_conflicts_are_not(fleet):
    folder, truth = fleet
    for name in (ESTWATER, "replacements_corriemoor_2026-10-24.csv",
                 "replacements_alderbeck_2026-10-31.csv"):
        form = ("cp1252", ";") if name == ESTWATER else ("utf-8", ",")
        lines = Counter(tuple(row.values()) for row in rows(folder / name, *form))
        assert sum(n_rows - 1 for n_rows in lines.values()) == planted(truth, "exact_repeat")[name]
    for name, n_rows in planted(truth, "conflict").items():
        keys = Counter((row["service_point"], row["removed_on"], row["hose_id"])
                       for row in {tuple(r.items()): r for r in rows(folder / name)}.values())
        assert sum(n for n in keys.values() if n > 1) == n_rows


def test_a_later_export_corrects_rows_of_an_earlier_one(fleet):
    folder, truth = fleet
    first = {row["row_id"]: row for row in rows(folder / "replacements_corriemoor_2026-10-24.csv")}
    later = rows(folder / "replacements_corriemoor_2026-10-31.csv")
    right = [row for row in later if row["row_id"] in first and not row["deleted"]]
    assert len(right) == planted(truth, "correction")["replacements_corriemoor_2026-10-31.csv"]
    for row in right:
        before = first[row["row_id"]]
        assert any(row[name] != before[name] for name in before)
    assert all(row["row_id"] in first for row in later if row["deleted"])


def test_the_overlap_of_two_exports_holds_the_same_rows(fleet):
    folder, truth = fleet
    for log in ("installations", "replacements"):
        name = f"{log}_alderbeck_2026-10-31.csv"
        early = {tuple(row.values()) for row in rows(folder / f"{log}_alderbeck_2023-01-09.csv")}
        both = [row for row in rows(folder / name) if tuple(row.values()) in early]
        assert len(both) == planted(truth, "repeat_of_earlier_file")[name] > 20
        assert all("2022-10-01" <= day_of(row) <= "2022-12-31" for row in both)


def test_one_site_writes_decimal_commas_and_two_date_forms(fleet):
    lines = rows(fleet[0] / ESTWATER, "cp1252", ";")
    days = [line["Day"] for line in lines if line["Day"]]
    dotted, slashed = (sum(sign in day for day in days) for sign in "./")
    assert dotted > 300
    assert slashed > 300
    assert dotted + slashed == len(days)
    assert any("," in line["Work £"] for line in lines)
    assert not any(line["Work £"].count(",") > 1 for line in lines)
    assert {"BRKDN", "PM", "?"} <= {line["Cause"] for line in lines}


def test_the_mapping_names_every_column_of_the_foreign_files(fleet):
    folder, _ = fleet
    mapping = tomllib.loads((folder / "columns.toml").read_text(encoding="utf-8"))
    book = load_workbook(folder / HAVERLUND)
    headers = {name: {cell.value for cell in book[name][3]} for name in book.sheetnames}
    with (folder / ESTWATER).open(encoding="cp1252", newline="") as file:
        headers[ESTWATER] = set(next(csv.reader(file, delimiter=";")))
    for entry in mapping["file"]:
        named = {*entry["columns"].values(), *entry.get("ignore", []), *entry.get("skip", {})}
        assert named == headers[entry.get("sheet", ESTWATER)]


def test_the_workbook_holds_its_dirt(fleet):
    folder, truth = fleet
    sheet = load_workbook(folder / HAVERLUND)["Removed"]
    cells = [row for row in sheet.iter_rows(min_row=4) if row[0].value is not None
             or row[1].value is not None]
    assert cells[-1][0].value == "Total"
    assert sum(cell.value == "#N/A" for row in cells for cell in row) == (
        planted(truth, "error_cell")[HAVERLUND])
    serials = [row[0] for row in cells if isinstance(row[0].value, int | float)]
    assert len(serials) == planted(truth, "serial_date")[HAVERLUND]
    assert all(40000 < cell.value < 47000 for cell in serials)


def test_records_begin_years_after_the_plant_did(fleet):
    folder, truth = fleet
    installed = rows(folder / "installations_corriemoor_2026-10-31.csv")
    begun = truth["records_from"]["Corriemoor"].isoformat()
    assert sum("" < row["installed_on"] < begun for row in installed) > 150
    removed = [row for name in ("2026-10-24", "2026-10-31")
               for row in rows(folder / f"replacements_corriemoor_{name}.csv")]
    early = sum("1950" < row["removed_on"] < begun for row in removed)
    assert 0 < early < 0.05 * len(removed)


def test_relocated_hoses_keep_their_name_and_age(fleet):
    hoses = fleet[1]["hoses"]
    moved = [i for i, age in enumerate(hoses["entry_age_days"]) if age > 0]
    assert len(moved) > 20
    for i in moved:
        before = [j for j, name in enumerate(hoses["hose_id"]) if name == hoses["hose_id"][i]
                  and hoses["installed_on"][j] < hoses["installed_on"][i]]
        days = sum((hoses["removed_on"][j] - hoses["installed_on"][j]).days for j in before)
        assert days == hoses["entry_age_days"][i]


def test_meters_rise_but_for_the_exchanged_ones(fleet):
    meters: dict[str, list[float]] = {}
    for row in rows(fleet[0] / "usage.tsv", delimiter="\t"):
        if row["clock"] == "run_hours":
            meters.setdefault(row["equipment"], []).append(float(row["reading"]))
    falls = {name: int((np.diff(read) < 0).sum()) for name, read in meters.items()}
    assert set(falls.values()) == {0, 1}
    assert 0 < sum(falls.values()) < 0.2 * len(meters)


def test_counters_of_cycles_rise_at_places_of_two_sites_and_stop_early_at_one(fleet):
    sites = {row["service_point"]: row["site"] for row in rows(fleet[0] / "service_points.csv")}
    last, counters = {}, {}
    for row in rows(fleet[0] / "usage.tsv", delimiter="\t"):
        if row["clock"] == "cycles":
            counters.setdefault(row["service_point"], []).append(int(row["reading"]))
            last[sites[row["service_point"]]] = row["read_on"]
    assert last == {"Alderbeck": "2026-10-01", "Corriemoor": "2025-03-01"}
    assert all(min(np.diff(read)) > 0 for read in counters.values())
