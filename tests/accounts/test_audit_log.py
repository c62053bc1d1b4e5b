"""The audit log: torn lines, months, and the form of earlier versions."""

import datetime as dt
import json

from etl import audit


def test_the_audit_log_survives_a_torn_line(tmp_path):
    audit.note(tmp_path, "load", edition=1)
    (month,) = (tmp_path / audit.FOLDER).iterdir()
    assert month.stat().st_mode & 0o777 == 0o600
    with month.open("ab") as file:
        file.write(b'{"what": "lo')
    audit.note(tmp_path, "load", "x" * 999, edition=2)
    assert [line["edition"] for line in audit.latest(tmp_path, 9)] == [2, 1]
    assert all(len(json.dumps(line)) < 400 for line in audit.latest(tmp_path, 9))


def test_the_audit_log_goes_by_months_and_loses_whole_old_ones_only(tmp_path, monkeypatch):
    def at(*when):
        monkeypatch.setattr(audit, "now", lambda: dt.datetime(*when, 12, tzinfo=dt.UTC))

    at(2023, 12, 31)
    for number in range(3):
        audit.note(tmp_path, "load", edition=number)
    first = (tmp_path / audit.FOLDER / "2023-12.jsonl").read_bytes()
    for month in range(1, audit.MOST_MONTHS):
        at(2024 + month // 13, month % 13 or 1, 2)
        audit.note(tmp_path, "load", edition=10 + month)
    names = sorted(path.name for path in (tmp_path / audit.FOLDER).iterdir())
    assert (tmp_path / audit.FOLDER / "2023-12.jsonl").read_bytes() == first
    assert [line["edition"] for line in audit.latest(tmp_path, 99)][-3:] == [2, 1, 0]
    at(2099, 1, 1)  # a clock gone wrong costs one old month, not all
    audit.note(tmp_path, "load", edition=99)
    left = sorted(path.name for path in (tmp_path / audit.FOLDER).iterdir())
    assert len(names) > 20
    assert left == [*names, "2099-01.jsonl"][-audit.MOST_MONTHS:]
    at(2023, 11, 1)  # and set back, its lines are kept
    audit.note(tmp_path, "load", edition=100)
    assert (tmp_path / audit.FOLDER / "2023-11.jsonl").exists()


def test_the_audit_log_of_earlier_versions_is_read_on(tmp_path):
    (tmp_path / "audit.jsonl").write_text('{"at": "2026-01-01T00:00:00+00:00", "what": "load"}\n')
    audit.note(tmp_path, "signed in", "Ann")
    assert [line["what"] for line in audit.latest(tmp_path, 9)] == ["signed in", "load"]
