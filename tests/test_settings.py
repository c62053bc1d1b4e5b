"""Settings of a store: defaults, overrides and refusals."""

import datetime as dt

import pytest

from etl.errors import InputError
from etl.settings import Settings, Shutdown, read_settings


def write(folder, text):
    path = folder / "settings.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_missing_file_means_defaults(tmp_path):
    assert read_settings(tmp_path / "settings.toml") == Settings()


def test_values_override_defaults_and_keep_their_types(tmp_path):
    found = read_settings(write(
        tmp_path, "review_days = 7\ncostly_downtime_per_hour = 900\n"
        'degraded_is_suspension = ["a"]\n'
    ))
    assert (found.review_days, found.costly_downtime_per_hour) == (7, 900.0)
    assert found.degraded_is_suspension == ("a",)
    assert found.seed == Settings().seed


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("confidance = 0.9", "Did you mean 'confidence'"),
        ("zzz = 1", "Known keys"),
        ("n_draws = 'many'", "n_draws must be of type int"),
        ("n_draws = true", "n_draws must be of type int"),
        ("n_draws = 0", "n_draws must be from 1 to .*, got 0"),
        ("n_draws = 1000000000000", "n_draws must be from 1 to"),
        ("seed = -1", "seed must be from 0 to"),
        ("confidence = nan", "confidence must lie between 0 and 1, got nan"),
        ("confidence = 90", "confidence must lie between 0 and 1, got 90"),
        ("service_level_costly = 1", "service_level_costly must lie between 0 and 1"),
        ("review_days = -30", "review_days must be from 1 to"),
        ("costly_downtime_per_hour = -0.5", "costly_downtime_per_hour must be from 0 to"),
        ("lead_time_spread = inf", "lead_time_spread must be from 0 to"),
        ("n_draws = ", "not readable as TOML"),
        (f"n_draws = {'[' * 3000}", "it nests too deeply"),
        (f"n_draws = {'9' * 5000}", "too many digits"),
        (f"confidence = {'9' * 400}", "confidence must be of type float"),
        ('shutdowns = ["December"]', "shutdowns must read like .* got 'December'"),
        ('shutdowns = ["2026-12-18 to 2026-12-14"]', "first day not after the last"),
        ('shutdowns = ["2026-02-30 to 2026-03-04"]', "shutdowns must read like"),
        ('required_interval_days = ["toxic"]', "required_interval_days must read like"),
        ('required_interval_days = ["toxic: two"]', "got 'toxic: two'"),
        ('required_interval_days = ["toxic: 0"]', "days above 0"),
        ('required_interval_days = ["toxic: inf"]', "days above 0"),
    ],
)
def test_a_faulty_setting_is_refused_with_what_to_do(tmp_path, text, words):
    with pytest.raises(InputError, match=words):
        read_settings(write(tmp_path, text))


def test_intervals_and_shutdowns_are_read_from_words(tmp_path):
    found = read_settings(write(
        tmp_path, 'required_interval_days = ["toxic: 730", "steam: to drum: 365.5"]\n'
        'shutdowns = ["North: 2027-04-05 to 2027-04-09", "2026-12-14 to 2026-12-18"]\n'))
    assert found.required_intervals() == {"toxic": 730.0, "steam: to drum": 365.5}
    assert found.shutdown_windows() == (
        Shutdown("", dt.date(2026, 12, 14), dt.date(2026, 12, 18)),
        Shutdown("North", dt.date(2027, 4, 5), dt.date(2027, 4, 9)))
    assert Settings().required_intervals() == {}
    assert Settings().shutdown_windows() == ()
