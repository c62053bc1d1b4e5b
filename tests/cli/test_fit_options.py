"""What ``braidlife fit`` says beyond the usual when asked to."""

import json

import pytest

from tests.published.lives_data import DATA


@pytest.fixture
def fit(braidlife):
    return lambda *options: braidlife("fit", DATA / "nist_8413.csv", *options)


# NIST/SEMATECH e-Handbook of Statistical Methods, section 8.4.1.3.
def test_bounds_survival_and_the_law_are_told_when_asked_for(fit):
    done = fit("--json", "--bounds", "bootstrap", "--survival-at", "200", "--full")
    assert done.returncode == 0, done.stderr
    [group] = json.loads(done.stdout)["groups"]
    assert group["method"] == "maximum likelihood, bootstrap bounds"
    assert group["mean_life"]["estimate"] == pytest.approx(540.737, abs=2e-3)
    assert group["survival"][0]["age"] == 200.0
    assert group["goodness"]["anderson_darling_p_value"] > 0.05
    again = fit("--json", "--bounds", "bootstrap", "--survival-at", "200", "--full")
    assert again.stdout == done.stdout


def test_an_unknown_kind_of_bounds_is_one_sentence(fit):
    done = fit("--bounds", "exact")
    assert done.returncode == 2
    assert "none of likelihood, normal, bootstrap" in done.stderr
    assert "Traceback" not in done.stderr
