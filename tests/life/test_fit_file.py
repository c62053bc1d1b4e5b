"""The fit of a file of lives: its JSON, its refusals, its words."""

import json
import math

import pytest

from etl.errors import InputError
from etl.fit_file import fit_file, fit_table, render
from tests.published.lives_data import DATA

GROUP_KEYS = {"group", "failures", "suspensions", "intervals", "status", "shape",
              "characteristic_life", "b10", "log_likelihood", "method", "notes"}


def write(folder, text, name="lives.csv"):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def as_json(result):
    """Through JSON and back, as a reader of the command sees it; NaN is an error."""
    return json.loads(json.dumps(result, allow_nan=False))


@pytest.mark.parametrize(("name", "shape", "life", "value"), [
    pytest.param("nist_8413", 1.7208, 606.53, -75.135, id="NIST/SEMATECH e-Handbook 8.4.1.3"),
    pytest.param("diesel_fan", 1.0584, 26296.8, None,
                 id="SciPy test suite, test_continuous_fit_censored, fan times"),
    pytest.param("shock_absorber", 3.16, 27718.72, None, id="R package SMRD, README"),
    pytest.param("nelson_cracks", 1.484768, 2182.004, -309.63118,
                 id="computed here on R survival cracks, intervals"),
])
def test_json_holds_the_published_figures(name, shape, life, value):
    result = as_json(fit_file(DATA / f"{name}.csv"))
    assert set(result) == {"groups", "confidence", "refused"}
    assert result["confidence"] == 0.90
    assert result["refused"] == []
    [group] = result["groups"]
    assert set(group) == GROUP_KEYS
    assert group["group"] == "all"
    assert group["status"] == "ok"
    assert group["method"] == "maximum likelihood, likelihood-ratio bounds"
    assert group["shape"]["estimate"] == pytest.approx(shape, rel=2e-3)
    assert group["characteristic_life"]["estimate"] == pytest.approx(life, rel=2e-5)
    if value is not None:
        assert group["log_likelihood"] == pytest.approx(value, abs=1e-3)
    for figure in ("shape", "characteristic_life", "b10"):
        assert group[figure]["low"] < group[figure]["estimate"] < group[figure]["high"]


def test_late_entries_and_groups_of_a_file():
    """Computed here on Klein and Moeschberger, Channing House."""
    result = fit_file(DATA / "channing_house.csv")
    shapes = {group["group"]: group["shape"]["estimate"] for group in result["groups"]}
    assert shapes == {"female": pytest.approx(9.522065, rel=1e-5),
                      "male": pytest.approx(6.280103, rel=2e-5)}


MESSY = """time,kind,entry,group
310,failed,0,boom
450,suspended,,boom
275,,0,boom
,failed,0,swing
0,failed,0,swing
-3,failed,0,swing
120,suspended,0,travel
80,suspended,80,travel
90,failed,90,travel
90,failed,95,travel
60,suspended,70,travel
"12,5",failed,0,slew
nan,failed,0,slew
44,burst,0,slew
70,failed,0,slew
"""


def test_bad_rows_are_refused_with_row_and_reason_and_the_others_fitted(tmp_path):
    result = as_json(fit_file(write(tmp_path, MESSY)))
    refused = {row["row"]: (row["column"], row["value"], row["reason"])
               for row in result["refused"]}
    assert sorted(refused) == [5, 6, 7, 10, 11, 12, 13, 14, 15]
    assert refused[5] == ("time", "", "time is empty.")
    assert refused[6][2].startswith("a failure at age 0: write it as an interval")
    assert refused[7] == ("time", "-3", "time is negative.")
    assert refused[10] == ("entry", "90", "entry must be before the failure.")
    assert refused[12] == ("entry", "70", "entry is after the end of the life.")
    assert refused[13] == ("time", "12,5", "time is not a number. Write 12.5.")
    assert refused[14] == ("time", "nan", "time is not a number.")
    assert refused[15][:2] == ("kind", "burst")
    status = {group["group"]: group["status"] for group in result["groups"]}
    assert status == {"boom": "few_failures", "slew": "shape_not_estimable", "swing": "no_lives",
                      "travel": "no_failures"}
    travel = result["groups"][3]
    assert travel["suspensions"] == 2
    assert any("counted, not fitted" in note for note in travel["notes"])
    assert travel["shape"] == {"estimate": None, "low": None, "high": None}
    assert travel["log_likelihood"] is None
    assert any("zero-failure bound" in note and f"{120 / math.log(20):.5g}" in note
               for note in travel["notes"])
    assert "No failures in 120 lived in all" in travel["notes"][0]
    assert result["groups"][1]["notes"][0] == "1 failure in 70 lived in all."


def test_ends_of_a_life(tmp_path):
    text = ("time_low,time_high,kind,count\n5,5,,2\n7,,,1\n8,12,,1\n9,9,suspended,3\n"
            "10,,failed,1\n14,11,interval,1\n3,4,suspended,1\n0,6,interval,1\n12,20,failed,1\n"
            "30,,suspended,0\n")
    result = fit_file(write(tmp_path, text))
    [group] = result["groups"]
    assert (group["failures"], group["suspensions"], group["intervals"]) == (2, 4, 3)
    assert [row["row"] for row in result["refused"]] == [6, 7, 8]


@pytest.mark.parametrize(("header", "message"), [
    ("life,kind", "a column 'time' is needed"),
    ("time,time_low", "either 'time' or 'time_low'"),
    ("time,entri", "unknown column 'entri'. Did you mean 'entry'"),
    ("tme", "unknown column 'tme'. Did you mean 'time'"),
    ("time,Time", "are both called 'Time'"),
])
def test_columns_that_cannot_be_used_are_named(tmp_path, header, message):
    cells = ",".join("5" for _ in header.split(","))
    with pytest.raises(InputError, match=message) as caught:
        fit_file(write(tmp_path, f"{header}\n{cells}\n"))
    assert str(tmp_path) not in str(caught.value)


def test_two_spellings_of_a_column_are_named():
    with pytest.raises(InputError, match="column 'time' is there twice"):
        fit_table({"time": [5], "Time ": [6]})


def test_a_missing_file_and_a_confidence_in_percent_are_refused(tmp_path):
    with pytest.raises(InputError, match=r"^none.csv: there is no such file"):
        fit_file(tmp_path / "none.csv")
    with pytest.raises(InputError, match=r"between 0 and 1, got 90"):
        fit_file(DATA / "nist_8413.csv", 90.0)


def test_other_columns_are_left_aside_and_said():
    [group] = fit_table({"time": [5, 9, 12], "mechanism": ["a", "b", "c"]})["groups"]
    assert "Column 'mechanism' is not used." in group["notes"]


def test_no_rows_are_no_lives():
    [group] = fit_table({"time": []})["groups"]
    assert group["status"] == "no_lives"
    assert fit_table({"time": [], "group": []})["groups"] == []


def test_counts_stand_for_rows():
    one = fit_table({"time": [5, 9, 12], "count": [2, 1, 3]})
    other = fit_table({"time": [5, 5, 9, 12, 12, 12]})
    assert one["groups"][0]["shape"]["estimate"] == pytest.approx(
        other["groups"][0]["shape"]["estimate"], rel=1e-12)
    assert one["groups"][0]["failures"] == 6


def test_file_forms_agree(tmp_path):
    import duckdb
    source = DATA / "channing_house.csv"
    expected = fit_file(source)
    tabs = write(tmp_path, source.read_text(encoding="utf-8").replace(",", "\t"), "lives.tsv")
    assert fit_file(tabs) == expected
    parquet = tmp_path / "lives.parquet"
    with duckdb.connect() as con:
        con.execute(f"copy (from read_csv('{source}')) to '{parquet}' (format parquet)")
    assert fit_file(parquet) == expected


def test_text_for_a_terminal_shows_every_group_and_refusal(tmp_path):
    text = render(fit_file(write(tmp_path, MESSY)))
    assert "few failures" in text
    assert "9 rows refused" in text
    assert "row 13, time '12,5'" in text
    assert "likelihood-ratio bounds of 90 %" in text
    assert "nan" not in text.replace("'nan'", "")


def test_a_workbook_gives_what_its_text_gives(tmp_path):
    import openpyxl
    book = openpyxl.Workbook()
    sheet = book.active
    for line in (DATA / "nist_8413.csv").read_text(encoding="utf-8").splitlines():
        sheet.append([float(cell) if cell.replace(".", "").isdigit() else cell or None
                      for cell in line.split(",")])
    book.save(tmp_path / "lives.xlsx")
    assert fit_file(tmp_path / "lives.xlsx") == fit_file(DATA / "nist_8413.csv")


@pytest.mark.parametrize(("bounds", "named"), [
    ("likelihood", "likelihood-ratio bounds"), ("normal", "normal-approximation bounds"),
    ("bootstrap", "bootstrap bounds")])
def test_other_bounds_and_more_figures_are_there_when_asked_for(bounds, named):
    result = as_json(fit_file(DATA / "nist_8413.csv", bounds=bounds, survival_at=(0.0, 200.0),
                              is_full=True))
    [group] = result["groups"]
    assert group["method"] == f"maximum likelihood, {named}"
    assert group["mean_life"]["estimate"] == pytest.approx(540.737, abs=2e-3)
    new, later = group["survival"]
    assert (new["age"], new["estimate"], new["low"], new["high"]) == (0.0, 1.0, 1.0, 1.0)
    for figure in (group["shape"], group["b10"], group["mean_life"], later):
        assert figure["low"] < figure["estimate"] < figure["high"]
    text = render(result)
    assert f"{named} of 90 %" in text
    assert "all: survival to 200: 0.8" in text
    assert "without a law 0.9" in text
    assert "all: mean life 540.74 (" in text
    assert "Akaike points: weibull 155.0, lognormal 155.1" in text
    assert later["without_law_low"] == later["without_law_high"] == pytest.approx(0.9)
    assert group["akaike"]["weibull"] == pytest.approx(154.269 + 12 / 17, abs=2e-3)
    assert group["three_parameter"]["outcome"] == "estimate"
    assert 0.0 < group["three_parameter"]["location"] < 54.0
    assert 0.05 < group["goodness"]["anderson_darling_p_value"] <= 1.0
    assert group["goodness"]["failures_judged"] == 10


# NIST/SEMATECH e-Handbook of Statistical Methods, section 8.4.1.3: the mean; its bounds were
# computed here and agree with the library reliability.
def test_normal_bounds_are_those_of_textbooks():
    [group] = fit_file(DATA / "nist_8413.csv", 0.95, bounds="normal")["groups"]
    assert group["shape"]["low"] == pytest.approx(0.97127, rel=1e-4)
    assert group["shape"]["high"] == pytest.approx(3.04875, rel=1e-4)


def test_a_group_that_says_nothing_by_simulation_says_so():
    columns = {"time": [*range(1, 41)],
               "kind": ["failed" if i == 38 else "suspended" for i in range(40)]}
    [group] = as_json(fit_table(columns, bounds="bootstrap"))["groups"]
    assert group["shape"]["estimate"] is not None
    assert (group["shape"]["low"], group["shape"]["high"]) == (None, None)
    assert any("most groups simulated like this one" in note for note in group["notes"])


def test_parts_of_lives_that_make_no_whole_one_have_an_estimate_and_no_simulated_bounds():
    columns = {"time": [1.3, 1.8], "count": [0.5, 0.5]}
    [group] = as_json(fit_table(columns, bounds="bootstrap"))["groups"]
    assert group["shape"]["estimate"] > 1.0
    assert group["shape"]["low"] is None
    assert any("most groups simulated like this one" in note for note in group["notes"])


@pytest.mark.parametrize("bounds", ["likelihood", "normal"])
def test_no_age_is_too_great_to_be_asked_for(bounds):
    columns = {"time": [1e-6 * age for age in range(95, 106)]}  # a steep shape: hazard overflows
    [group] = as_json(fit_table(columns, bounds=bounds, survival_at=(0.0, 1e9, 1e300)))["groups"]
    assert [each["estimate"] for each in group["survival"]] == [1.0, 0.0, 0.0]


# Rinne (2009) p. 348, computed here; Lockhart and Stephens (1994), data B: no finite estimate.
def test_a_full_fit_tells_of_other_laws():
    rinne = fit_file(DATA / "rinne_2_3par.csv", is_full=True)
    three = rinne["groups"][0]["three_parameter"]
    assert three["location"] == pytest.approx(19.28374, rel=1e-4)
    assert "with a later start: from 19.284" in render(rinne)
    unbounded = as_json(fit_file(DATA / "lockhart_stephens_b.csv", is_full=True))
    assert unbounded["groups"][0]["three_parameter"]["location"] is None
    assert "no finite estimate" in render(unbounded)
    few = as_json(fit_file(DATA / "bearing_cage.csv", is_full=True))
    assert "a later start is not tried: that takes 10 failures" in render(few)
    assert few["groups"][0]["goodness"]["anderson_darling_p_value"] is None
    assert "the fit is not judged: that takes ten failures" in render(few)


def test_two_populations_of_a_file_are_suspected():
    early, late = range(1, 41), range(1000, 1400, 5)
    result = as_json(fit_table({"time": [*early, *late]}, is_full=True))
    two = result["groups"][0]["two_populations"]
    assert two["p_value"] < 1e-6
    assert two["early_share"] == pytest.approx(40 / 120, abs=0.01)
    assert "two populations, 33% with characteristic life" in render(result)


@pytest.mark.parametrize("asked", [{"bounds": "exact"}, {"survival_at": (-1.0,)},
                                   {"survival_at": (math.inf,)}])
def test_questions_that_cannot_be_answered_are_refused(asked):
    with pytest.raises(InputError, match="none of|numbers >= 0"):
        fit_table({"time": [1.0, 2.0]}, **asked)
