"""Settings of a store: defaults, overrides and refusals."""

import pytest

from etl.errors import InputError
from etl.settings import Settings, read_settings


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
        ("n_draws = ", "not readable as TOML"),
    ],
)
def test_a_faulty_setting_is_refused_with_what_to_do(tmp_path, text, words):
    with pytest.raises(InputError, match=words):
        read_settings(write(tmp_path, text))
