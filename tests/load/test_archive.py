import datetime as dt
import json

import pytest

from etl.errors import InputError, StoreError
from etl.load import archive, kept
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


@pytest.mark.parametrize("line", ["not JSON", "[]", '{"load_id": 1}'])
def test_a_damaged_register_is_named_by_its_line(site, line):
    site.store.mkdir()
    (site.store / "loads.jsonl").write_text(line + "\n")
    with pytest.raises(StoreError, match=r"loads.jsonl line 1: damaged.*load the file"):
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

    monkeypatch.setattr(archive, "digest", digest_then_change)
    with pytest.raises(InputError, match=r"installations.csv: changed while it was being read"):
        archive.add(site.store, site.logs)
    assert list((site.store / "files").iterdir()) == []
    assert archive.registered(site.store) == []


def test_an_unusable_mapping_stops_before_anything_is_added(site):
    site.write("installations.csv", HEAD)
    site.write("columns.toml", "x = 1")
    with pytest.raises(InputError, match="unknown key 'x'"):
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
