"""Files that come in through the pages are mapped, looked over and loaded as a folder would be."""

import json
from pathlib import Path

import pytest

from etl.entry import incoming, job
from etl.entry.incoming_asked import (
    date_choices,
    mark_choice,
    month_choices,
    serial_choice,
    unknown_words,
    unused,
)
from etl.entry.incoming_choice import (
    STAYS,
    Choice,
    columns_of,
    guess,
    needed_of,
    unit_choices,
    with_forms,
)
from etl.entry.incoming_text import mapping_text
from etl.errors import InputError
from etl.load import archive
from etl.load.look import Look, look
from etl.load.mapping import parse_mapping


def looked(name, *cells):
    counts = {cell: cells.count(cell) for cell in cells}
    return look(name, list(counts.items()), len(cells), len(counts))


BOOK = [
    looked("Asset", "P1", "P1", "P2", "P2"), looked("Duty", "steam", "steam", "milk", "milk"),
    looked("Fitted", "01.02.2024", "05.03.2024", "20.02.2024", "13.05.2024"),
    looked("Taken out", "05.03.2024", "13.05.2024"), looked("Why", "Leak", "PM"),
    looked("Spent (EUR)", "1.250,50", "10,00"),
]


def priced(currency, **more):
    return Choice(kind="parts", currency=currency, header=["No", "Kind", "Price"], columns={
        "part_number": "No", "construction": "Kind", "unit_price": "Price"}, **more)


def test_amounts_of_two_currencies_are_never_added_up():
    """The second file's are left aside until its rate is said, then turned by it."""
    without = parse_mapping(mapping_text({"a.csv": priced("EUR"), "b.csv": priced("USD")}))
    assert without.currency == "EUR"
    assert ["unit_price" in entry.columns for entry in without.file] == [True, False]
    assert without.file[1].ignore == ["Price"]
    both = {"a.csv": priced("EUR"), "b.csv": priced("USD", rate="0.85")}
    told = parse_mapping(mapping_text(both))
    assert [entry.options().rate for entry in told.file] == ["1", "0.850000000"]
    store_in = parse_mapping(mapping_text({"a.csv": priced("EUR", rate="1.2")}, "GBP"))
    assert (store_in.currency, store_in.file[0].options().rate) == ("GBP", "1.200000000")


def test_one_spreadsheet_of_hoses_is_known_by_its_two_days():
    made = guess("book.xlsx", BOOK, 3)
    assert made.kind == STAYS
    assert made.columns["service_point"] == "Asset"
    assert (made.columns["installed_on"], made.columns["removed_on"]) == ("Fitted", "Taken out")
    assert made.columns["reason"] == "Why"
    assert made.date_formats == ["%d.%m.%Y"]


def test_a_reason_under_any_name_is_known_by_its_words():
    odd = [*BOOK[:4], looked("Note", "next to valve", "see sketch"),
           looked("What happened", "burst", "leaking at braid", "worn", "?"), BOOK[5]]
    made = guess("book.xlsx", odd, 3)
    assert made.columns["reason"] == "What happened"
    assert unused(made, odd) == ["Note", *(
        ["Spent (EUR)"] if "Spent (EUR)" not in made.columns.values() else [])]
    foreign = [*BOOK[:4], looked("Note", "next to valve", "see sketch", "worn mat", "burst pipe")]
    assert "reason" not in guess("book.xlsx", foreign, 3).columns


def test_the_mapping_feeds_three_logs_and_can_be_read():
    made = guess("book [1].xlsx", BOOK, 3)
    columns = {ours: theirs for ours, theirs in made.columns.items() if ours != "part_cost"}
    made = made.model_copy(update={
        "columns": columns | {"part_cost": "Spent (EUR)"}, "decimal": ",", "thousands": ".",
        "words": {"reason": {"PM": "planned", "Leak": ""}}, "currency": "EUR"})
    read = parse_mapping(mapping_text({"book [1].xlsx": made}))
    assert [entry.log for entry in read.file] == ["service_points", "installations",
                                                  "replacements"]
    assert read.currency == "EUR"
    assert all(entry.header_row == 3 for entry in read.file)
    out = read.file[2]
    assert out.keep == {"Taken out": r"\S"}  # a hose still running is not one that came out
    assert out.words == {"reason": {"PM": "planned"}}
    assert out.columns["part_cost"] == "Spent (EUR)"
    assert out.decimal == ","
    assert not out.ignores("Taken out")
    assert out.ignores("Duty")


def test_what_a_file_lacks_stands_the_same_in_every_row():
    made = Choice(kind="replacements", columns={"removed_on": "a", "service_point": "b"},
                  header=["a", "b", 'odd " name'])
    (entry,) = parse_mapping(mapping_text({"x.csv": made})).file
    assert entry.constants == {"reason": "unknown"}
    assert needed_of("replacements") == ("removed_on", "service_point")
    assert next(iter(columns_of(STAYS))) == "service_point"


def test_only_a_person_can_tell_day_from_month_and_what_a_word_means():
    days = looked("Out", "03/04/2024", "05/06/2024")
    made = Choice(kind="replacements", columns={"removed_on": "Out", "reason": "Why"})
    assert date_choices(made, [days, BOOK[4]]) == ["%d/%m/%Y", "%m/%d/%Y"]
    assert date_choices(made, [BOOK[2]]) == []
    assert [word for word, _, _ in unknown_words(made, [BOOK[4]])["reason"]] == ["PM"]
    assert unit_choices(Choice(kind="service_points", columns={"pressure_bar": "P [psi]"}))[
        "pressure_bar"][0] == "psi"


def test_names_of_months_come_with_the_form_of_the_days():
    out = [looked("Out", "3. M\u00e4r 2024", "17. Okt. 2024"), looked("Where", "P1", "P2")]
    made = with_forms(Choice(kind="replacements", header=["Out", "Where"], columns={
        "removed_on": "Out", "service_point": "Where"}), out)
    (entry,) = parse_mapping(mapping_text({"x.csv": made})).file
    assert entry.date_formats == ["%d. %b %Y"]
    assert (entry.months["m\u00e4r"], entry.months["okt"]) == (3, 10)
    assert not with_forms(made, BOOK).months


def test_days_kept_as_numbers_are_known_by_name_and_their_calendar_is_asked():
    """The calendars lie 1,462 days apart (ECMA-376, part 1, section 18.17.4.1, from memory)."""
    book = [BOOK[0], BOOK[1], looked("Fitted", "44199", "44300"),
            looked("Removed", "44300", "44411.25"), looked("WO", "70001", "70002")]
    made = guess("book.csv", book, None)
    assert made.kind == STAYS
    assert (made.columns["installed_on"], made.columns["removed_on"]) == ("Fitted", "Removed")
    serial, days = serial_choice(made, book, {})
    assert (serial, days) == ("44199", {1900: "2021-01-03", 1904: "2025-01-04"})
    assert "serial_days_from" not in mapping_text({"x.csv": made})
    said = made.model_copy(update={"serial_days_from": 1904})
    found = {entry.log: entry.serial_days_from for entry in parse_mapping(
        mapping_text({"x.csv": said})).file}
    assert found == {"service_points": None, "installations": 1904, "replacements": 1904}
    assert serial_choice(made, BOOK, {"installed_on": ["44199"]}) is not None  # one odd cell
    assert serial_choice(made, BOOK, {"reason": ["44199"]}) is None


def test_names_of_months_that_no_table_knows_are_asked_and_then_read():
    out = [looked("Out", "3 Oca 2021", "17 \u015eub. 2021", "5 Mar 2021"),
           looked("Where", "P1", "P2")]
    made = Choice(kind="replacements", header=["Out", "Where"], columns={
        "removed_on": "Out", "service_point": "Where"})
    assert with_forms(made, out).date_formats == ["%d %b %Y"]  # by the one that is English
    assert month_choices(made, out, {}) == [
        ("oca", "3 Oca 2021"), ("\u015fub", "17 \u015eub. 2021")]
    said = with_forms(made.model_copy(update={"months_said": {"oca": 1, "\u015fub": 2}}), out)
    (entry,) = parse_mapping(mapping_text({"x.csv": said})).file
    assert entry.months == {"oca": 1, "\u015fub": 2}
    assert [name for name, _ in month_choices(said, out, {})] == ["oca", "\u015fub"]
    german = with_forms(made, [looked("Out", "3. M\u00e4r 2024", "17. Okt. 2024"), out[1]])
    days = [looked("Out", "3. M\u00e4r 2024", "17. Okt. 2024")]
    assert month_choices(german, days, {"removed_on": ["3. J\u00e4n 2024", "soon"]}) == [
        ("j\u00e4n", "3. J\u00e4n 2024")]


def test_marks_in_numbers_are_asked_only_where_the_cells_fit_two_ways():
    made = Choice(kind="parts", columns={"unit_price": "P"}, header=["P"])
    price = looked("P", "1.250", "980")
    assert mark_choice(made, [price]) == "1.250"
    assert mark_choice(made, [looked("P", "1.250", "980,50")]) == ""
    said = with_forms(made.model_copy(update={"marks_said": ",."}), [price])
    (entry,) = parse_mapping(mapping_text({"x.csv": said})).file
    assert (entry.decimal, entry.thousands) == (",", ".")


def test_rows_of_other_things_are_left_out_by_words():
    made = guess("book.xlsx", BOOK, None).model_copy(update={
        "keep_column": "Duty", "keep_words": "steam, 100 %"})
    out = {entry.log: entry.keep for entry in parse_mapping(mapping_text({"x": made})).file}
    assert out["service_points"] == {"Duty": r"(?i)steam|100\ %"}
    assert out["replacements"]["Taken out"] == r"\S"
    nothing = made.model_copy(update={"keep_words": " , "})
    assert parse_mapping(mapping_text({"x": nothing})).file[0].keep == {}


def test_a_file_of_the_same_form_is_mapped_as_before():
    before = guess("book.xlsx", BOOK, None).model_copy(update={
        "words": {"reason": {"PM": "planned"}}})
    again = guess("book 2.xlsx", BOOK, 5, [before])
    assert (again.words, again.columns, again.header_row) == (before.words, before.columns, 5)
    other = [*BOOK, Look("New", "text", 1, 1, ("x",))]
    assert guess("book 3.xlsx", other, None, [before]).words == {}


def test_a_file_is_kept_under_a_safe_name_and_taken_away_again(tmp_path):
    assert incoming.add_file(tmp_path, "../../etc/hose book.csv", b"a;b\n") == "hose book.csv"
    assert incoming.files(tmp_path) == ["hose book.csv"]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["incoming"]
    incoming.choose(tmp_path, "hose book.csv", {"kind": STAYS, "columns": {"service_point": "a"},
                                                "header": ["a", "b"]})
    assert incoming.missing_logs(tmp_path, has_edition=False) == []
    incoming.remove_file(tmp_path, "hose book.csv")
    assert incoming.files(tmp_path) == []
    assert incoming.missing_logs(tmp_path, has_edition=False) == list(incoming.NEEDED)
    kept = json.loads((tmp_path / "incoming" / "choices.json").read_text())
    assert [form["header"] for form in kept["forms"]] == [["a", "b"]]


@pytest.mark.parametrize(("name", "content", "message"), [
    ("book.exe", b"x", "must end in"), ("book.csv", b"", "is empty"),
])
def test_what_is_no_log_file_is_not_kept(tmp_path, name, content, message):
    with pytest.raises(InputError, match=message):
        incoming.add_file(tmp_path, name, content)
    assert incoming.files(tmp_path) == []


def test_a_choice_that_cannot_be_read_changes_nothing(tmp_path):
    incoming.add_file(tmp_path, "a.csv", b"a;b\n")
    good = {"kind": "stock", "columns": {"part_number": "a"}, "header": ["a", "b"]}
    incoming.choose(tmp_path, "a.csv", good)
    for bad in ({"kind": "nonsense"}, {"kind": "stock", "shape": 1},
                {"kind": "stock", "columns": {"part_number": "a", "on_hand": "a"}}):
        with pytest.raises(InputError):
            incoming.choose(tmp_path, "a.csv", bad)
    with pytest.raises(InputError, match="no such file"):
        incoming.choose(tmp_path, "b.csv", good)
    assert incoming.chosen(tmp_path)["a.csv"].columns == {"part_number": "a"}


def test_loading_archives_the_files_with_their_mapping(tmp_path, monkeypatch):
    started = []
    monkeypatch.setattr(job, "start", lambda store, **_: started.append(store))
    with pytest.raises(InputError, match="No file waits"):
        incoming.load_files(tmp_path)
    incoming.add_file(tmp_path, "book.csv", b"Asset;In\nP1;2024-01-01\n")
    incoming.choose(tmp_path, "book.csv", {"kind": "installations", "columns": {
        "service_point": "Asset", "installed_on": "In"}, "header": ["Asset", "In"]})
    incoming.load_files(tmp_path)
    (item,) = archive.registered(tmp_path)
    mapping = archive.mapping_of(tmp_path, item)
    assert mapping.file[0].columns == {"service_point": "Asset", "installed_on": "In"}
    assert incoming.files(tmp_path) == []
    assert started == [tmp_path]
    with pytest.raises(InputError, match="holds logs already"):
        incoming.load_demo(tmp_path)


def test_only_a_store_of_the_invented_fleet_is_set_aside(tmp_path):
    made = tmp_path / "logs"
    made.mkdir()
    (made / "stock.csv").write_text("part_number,as_of,on_hand\nA,2024-01-01,3\n")
    archive.add(tmp_path, made)
    assert incoming.is_demo(tmp_path)
    own = tmp_path / "own"
    own.mkdir()
    (own / "parts.csv").write_text("part_number,construction\nA,C\n")
    archive.add(tmp_path, own)
    assert not incoming.is_demo(tmp_path)
    with pytest.raises(InputError, match="not the invented fleet's"):
        incoming.set_demo_aside(tmp_path)
    assert len(archive.registered(tmp_path)) == 2


@pytest.mark.parametrize("n_moved", range(5))
def test_setting_aside_that_was_killed_half_way_is_done_by_doing_it_again(tmp_path, monkeypatch,
                                                                         n_moved):
    """Entries of invented hoses that stayed would be counted with the site's own logs."""
    (tmp_path / "logs").mkdir()
    (tmp_path / "logs" / "stock.csv").write_text("part_number,as_of,on_hand\nA,2024-01-01,3\n")
    archive.add(tmp_path, tmp_path / "logs")
    for name in ("current", "track", "entries"):
        (tmp_path / name).write_text("invented")
    moved = iter(range(n_moved))

    def move(source, target):
        next(moved)
        Path(source).rename(target)

    monkeypatch.setattr(incoming.os, "replace", move)
    with pytest.raises(StopIteration):
        incoming.set_demo_aside(tmp_path)
    monkeypatch.undo()
    assert incoming.is_demo(tmp_path)
    incoming.set_demo_aside(tmp_path)
    assert not [name for name in incoming.DEMO_PARTS if (tmp_path / name).exists()]


def test_what_is_set_aside_is_all_there(tmp_path):
    made = tmp_path / "logs"
    made.mkdir()
    (made / "stock.csv").write_text("part_number,as_of,on_hand\nA,2024-01-01,3\n")
    archive.add(tmp_path, made)
    (tmp_path / "settings.toml").write_text("")
    incoming.set_demo_aside(tmp_path)
    assert archive.registered(tmp_path) == []
    assert (tmp_path / "settings.toml").exists()
    assert len(archive.registered(tmp_path / "set-aside" / "1")) == 1
    assert not incoming.is_demo(tmp_path)
