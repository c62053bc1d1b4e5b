import datetime as dt
import json
import os

import pytest

from etl.errors import InputError, StoreError
from etl.load import archive, kept, once
from etl.load.check import check_path
from etl.load.raw import load_raw

DAY, LATER = dt.date(2026, 1, 1), dt.date(2026, 2, 1)
HEAD = "installed_on,service_point\n"


def statuses(outcomes):
    return [(item.source_file, item.status, item.load_id) for item in outcomes]


def test_the_same_content_again_changes_nothing(site):
    site.write("b/installations.csv", HEAD)
    site.write("a/installations.csv", HEAD + "2020-01-01,P\n")
    site.write("notes.md", "no log")
    assert statuses(site.load(DAY)) == [("installations.csv", "new", 1),
                                        ("installations.csv", "new", 2)]
    before = (site.store / "loads.jsonl").read_bytes()
    site.write("copy of installations.csv", HEAD)
    assert statuses(site.load(LATER)) == [
        ("installations.csv", "already loaded", 1), ("installations.csv", "already loaded", 2),
        ("copy of installations.csv", "already loaded", 2)]
    assert (site.store / "loads.jsonl").read_bytes() == before
    assert site.rows("select load_id, loaded_on from raw.loads order by 1") == [(1, DAY), (2, DAY)]


def test_a_changed_mapping_reads_the_same_file_again_under_its_number(site):
    site.write("installations.csv", HEAD.replace("service_point", "Place") + "2020-01-01,P\n")
    site.write("parts.csv", "part_number,construction\n")
    site.load(DAY)
    assert "Required column service_point" in site.refusal("installations.csv")
    site.write("columns.toml", '[[file]]\nmatch = "inst*"\nlog = "installations"\n'
               '[file.columns]\nservice_point = "Place"\n')
    assert ("installations.csv", "mapping changed", 1) in statuses(site.load(LATER))
    assert site.status("installations.csv") == ("loaded", None)
    assert site.rows("select loaded_on from raw.loads where load_id = 1") == [(DAY,)]
    assert site.rows("select load_id, service_point from raw.installations") == [(1, "P")]
    assert {item.status for item in archive.add(site.store, site.logs, LATER)} == {"already loaded"}


def test_a_file_that_no_name_announced_is_read_under_its_right_name(site):
    path = site.write("x.csv", HEAD + "2020-01-01,P\n")
    site.load()
    site.refusal("x.csv")
    path.rename(site.logs / "installations.csv")
    assert statuses(site.load()) == [("installations.csv", "mapping changed", 1)]
    assert site.status("installations.csv") == ("loaded", None)


def test_the_nearest_mapping_above_a_file_is_its_own(site):
    site.write("columns.toml", '[[file]]\nmatch = "x.csv"\nlog = "parts"\n')
    site.write("north/x.csv", "part_number,construction\nN,c\n")
    site.write("south/columns.toml", '[[file]]\nmatch = "x.csv"\nlog = "stock"\n')
    site.write("south/x.csv", "part_number,as_of,on_hand\nS,2020-01-01,1\n")
    site.load()
    assert site.rows("select part_number from raw.parts") == [("N",)]
    assert site.rows("select part_number from raw.stock") == [("S",)]


def test_a_line_cut_short_by_a_crash_is_not_counted_and_is_overwritten(site):
    site.write("installations.csv", HEAD)
    site.load()
    register = site.store / "loads.jsonl"
    with register.open("ab") as file:
        file.write(b'{"load_id": 2, "source_fi')
    assert [item.load_id for item in archive.registered(site.store)] == [1]
    site.write("installations_2.csv", HEAD + "2020-01-01,P\n")
    archive.add(site.store, site.logs)
    assert [json.loads(line)["load_id"] for line in register.read_text().splitlines()] == [1, 2]


def test_a_whole_line_without_its_line_end_counts_before_and_after(site):
    """As an editor leaves it that writes no line end at the end of a file."""
    site.write("installations.csv", HEAD)
    site.load()
    register = site.store / "loads.jsonl"
    register.write_text("\n" + register.read_text().rstrip("\n"))
    assert [item.load_id for item in archive.registered(site.store)] == [1]
    site.write("installations_2.csv", HEAD + "2020-01-01,P\n")
    archive.add(site.store, site.logs)
    assert [item.load_id for item in archive.registered(site.store)] == [1, 2]
    assert register.read_text().count("\n") == 3


@pytest.mark.parametrize("odd", [b"\xff", b"\xed\xa0\x80", b"\n", b"\x1b[2J"])
def test_a_file_whose_name_is_no_text_loads_under_a_name_that_is(site, odd):
    """Names of other systems, unpacked as they were: bytes of another code page are not UTF-8."""
    site.write("x.csv", HEAD + "2020-01-01,P\n")
    site.con.execute("copy (select 'N' as part_number, 'C' as construction) to $1",
                     [str(site.store.with_suffix(".parquet"))])
    logs = os.fsencode(site.logs)
    os.rename(site.logs / "x.csv", os.path.join(logs, b"installations_" + odd + b".csv"))
    os.rename(site.store.with_suffix(".parquet"), os.path.join(logs, b"parts_" + odd + b".parquet"))
    done = site.load()
    assert [item.status for item in done] == ["new", "new"]
    assert all(item.source_file.isprintable() for item in done)
    assert site.rows("select service_point from raw.installations") == [("P",)]
    assert site.rows("select part_number from raw.parts") == [("N",)]
    assert {item.status for item in site.load()} == {"already loaded"}
    assert check_path(site.logs).text().replace("\n", "").isprintable()
    loaded = site.store / "loads.jsonl"  # as it was noted before
    loaded.write_text(loaded.read_text().replace("\\ufffd", "\\udcff"))
    assert archive.registered(site.store)[0].source_file.isprintable()


WHOLE = {"load_id": 1, "source_file": "parts.csv", "sha256": "0" * 64, "size_bytes": 9,
         "mapping_sha256": None, "loaded_on": "2026-01-01"}


@pytest.mark.parametrize("line", [
    "not JSON", "[]", '{"load_id": 1}', "[" * 3000, '{"load_id": ' + "9" * 5000,
    *(json.dumps(WHOLE | changed) for changed in (
        {"load_id": "1"}, {"load_id": 0}, {"load_id": True}, {"source_file": 5},
        {"source_file": "../parts.csv"}, {"sha256": "../../parts"}, {"size_bytes": "9"},
        {"mapping_sha256": 5}, {"loaded_on": 5}, {"loaded_on": "2026-02-30"}, {"more": 1}))])
def test_a_damaged_register_is_named_by_its_line(site, line):
    site.store.mkdir()
    (site.store / "loads.jsonl").write_text(line + "\n")
    with pytest.raises(StoreError, match=r"loads.jsonl line 1: damaged.*load the file"):
        archive.registered(site.store)


def test_a_number_that_stands_for_two_files_is_a_damaged_line(site):
    """A file under another file's number would take its place without a word."""
    site.store.mkdir()
    (site.store / "loads.jsonl").write_text(
        json.dumps(WHOLE) + "\n" + json.dumps(WHOLE | {"sha256": "1" * 64}) + "\n")
    with pytest.raises(StoreError, match=r"loads.jsonl line 2: damaged"):
        archive.registered(site.store)


def a_mapped_file(site):
    site.write("columns.toml", '[[file]]\nmatch = "x.csv"\nlog = "installations"\n')
    site.write("x.csv", HEAD + "2020-01-01,P\n")
    site.load()
    return {folder: next((site.store / folder).iterdir()) for folder in ("files", "mappings")}


@pytest.mark.parametrize(("content", "fault"), [
    (None, "is gone"), (b"", "was altered"), (b"half", "was altered"),
    ("same size", "was altered"),
])
@pytest.mark.parametrize(("folder", "what"), [("files", "copy"), ("mappings", "mapping")])
def test_a_damaged_copy_in_the_archive_is_named(site, folder, what, content, fault):
    copy = a_mapped_file(site)[folder]
    if content is None:
        copy.unlink()
    else:
        whole = copy.read_bytes()
        copy.write_bytes(content if isinstance(content, bytes) else whole.replace(b"st", b"ts"))
    with pytest.raises(StoreError, match=rf"x.csv \(load 1\): its archived {what} {fault}"):
        load_raw(site.con, site.store)


@pytest.mark.parametrize("folder", ["files", "mappings"])
def test_loading_the_original_again_puts_a_damaged_copy_right(site, folder):
    copy = a_mapped_file(site)[folder]
    whole = copy.read_bytes()
    copy.write_bytes(whole.replace(b"st", b"ts"))
    assert statuses(site.load()) == [("x.csv", "already loaded", 1)]
    assert copy.read_bytes() == whole
    assert site.rows("select service_point from raw.installations") == [("P",)]


def test_a_file_that_changes_while_it_is_copied_is_not_kept(site, monkeypatch):
    path = site.write("installations.csv", HEAD)

    def digest_then_change(file):
        found = kept.digest(file)
        path.write_text(HEAD + "2020-01-01,P\n")
        return found

    monkeypatch.setattr(once, "digest", digest_then_change)
    with pytest.raises(InputError, match=r"installations.csv: changed while it was being read"):
        archive.add(site.store, site.logs)
    assert list((site.store / "files").iterdir()) == []
    assert archive.registered(site.store) == []


@pytest.mark.parametrize(("text", "said"), [
    ("x = 1", "unknown key 'x'"),
    ('[[file]]\nmatch = "other.csv"\nlog = "replacements"\n[file.words.reason]\nX = "faild"',
     "'faild', which is not one of"),
])
def test_an_unusable_mapping_stops_before_anything_is_added(site, text, said):
    """What is archived with it would stop every later load of the store, of other files as well."""
    site.write("installations.csv", HEAD)
    site.write("columns.toml", text)
    with pytest.raises(InputError, match=said):
        site.load()
    assert archive.registered(site.store) == []


def test_nothing_to_load_is_said(site):
    site.write("notes.txt", "hello")
    with pytest.raises(InputError, match="no log files found"):
        site.load()
    with pytest.raises(InputError, match="no such file or folder"):
        archive.add(site.store, site.logs / "nowhere")


def test_one_currency_for_the_whole_store(site):
    site.write("installations.csv", HEAD)
    site.load()
    assert archive.reporting_currency(site.store) is None
    site.write("columns.toml", 'currency = "GBP"')
    site.load()
    assert archive.reporting_currency(site.store) == "GBP"
    site.write("b/columns.toml", 'currency = "NOK"')
    site.write("b/installations_b.csv", HEAD + "\n")
    site.load()
    with pytest.raises(InputError, match="currency must be one"):
        archive.reporting_currency(site.store)
