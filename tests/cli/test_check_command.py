"""`braidlife check` as a user types it: what it says, what it writes, how it ends."""

import json

PLACES = "service_point,application_class\nP-001,steam\nP-002,steam\n"
EXPORT = """Pos.;Date removed;Reason code;Serial;Cost of part;Clerk
P-001;31.01.2020;failed;0017;1.234,50;AB
P-002;01.02.2020;planed;0018;12,00;AB
"""


def test_an_export_is_shown_tried_and_proposed_then_written_then_read(braidlife, tmp_path):
    (tmp_path / "service_points.csv").write_text(PLACES, encoding="utf-8")
    (tmp_path / "export.csv").write_text(EXPORT, encoding="utf-8")
    done = braidlife("check", tmp_path, "--write")
    assert done.returncode == 1
    for said in ("Date removed -> removed_on: days %d.%m.%Y, 2 filled",
                 "replacements under the proposed mapping, rows: 1 kept, 0 superseded, 1 refused",
                 "row 2: removed_on 2020-01-31, service_point P-001, reason failed, hose_id 0017,"
                 " part_cost 1234.50",
                 "export.csv row 3: reason 'planed' is not one of the known words. Did you mean"
                 " planned?", "(--write puts it into columns.toml)"):
        assert said in done.stdout
    assert "proposal written to columns.toml" in done.stderr + done.stdout
    mapping = (tmp_path / "columns.toml").read_text(encoding="utf-8")
    (tmp_path / "columns.toml").write_text(
        mapping.replace('# "planed" = "planned"', '"planed" = "planned"'), encoding="utf-8")
    again = braidlife("check", tmp_path, "--json")
    told = json.loads(again.stdout)
    assert (again.returncode, told["n_refused"], told["refused"]) == (0, 0, [])
    assert [rows["n_kept"] for file in told["files"] for rows in file["rows"]] == [2, 2]
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "columns.toml", "export.csv", "service_points.csv"]


def test_nothing_to_check_is_an_unusable_call(braidlife, tmp_path):
    done = braidlife("check", tmp_path / "missing")
    assert done.returncode == 2
    assert "no such file or folder" in done.stderr
    assert "Traceback" not in done.stderr
