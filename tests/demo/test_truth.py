"""The truth about the invented fleet: its parameters are found again in its lives."""

import datetime as dt
import tomllib

import numpy as np
import pytest
from scipy.optimize import minimize

from demo_fleet.make_fleet import make_fleet, read_scenario, write_truth

AS_OF = dt.date(2026, 10, 31)


@pytest.fixture(scope="module")
def truth(tmp_path_factory):
    return make_fleet(tmp_path_factory.mktemp("logs"))


def test_truth_is_written_and_read_back(truth, tmp_path):
    write_truth(truth, tmp_path / "truth.toml")
    back = tomllib.loads((tmp_path / "truth.toml").read_text(encoding="utf-8"))
    assert back == {key: value for key, value in truth.items() if key != "hoses"}


def table(truth):
    hoses = truth["hoses"]
    as_of = AS_OF.toordinal()
    ends = [(failed or removed or AS_OF).toordinal() for failed, removed
            in zip(hoses["failed_on"], hoses["removed_on"], strict=True)]
    starts = np.array([day.toordinal() for day in hoses["installed_on"]])
    entry = np.array(hoses["entry_age_days"], float)
    assert max(ends) <= as_of
    return {**{name: np.array(column) for name, column in hoses.items()},
            "entry": entry, "age": entry + np.array(ends) - starts}


def weibull_fit(lives, mechanism):
    """Fit one mechanism by maximum likelihood, every place's frailty known."""
    age, entry, z = np.maximum(lives["age"], 0.5), lives["entry"], lives["frailty"]
    is_failure = lives["mechanism"] == mechanism

    def loss(theta):
        shape, scale = np.exp(theta)
        hazard = np.log(z * shape / scale) + (shape - 1.0) * np.log(age / scale)
        passed = z * ((age / scale) ** shape - (entry / scale) ** shape)
        return passed.sum() - hazard[is_failure].sum()
    fit = minimize(loss, np.log([1.5, 1500.0]), method="Nelder-Mead",
                   options={"xatol": 1e-6, "fatol": 1e-8, "maxiter": 2000})
    assert fit.success
    return np.exp(fit.x), int(is_failure.sum())


@pytest.mark.parametrize(("application_class", "construction", "mechanism"), [
    ("cleaning return", "C-304-OP1", "cl_scc"),
    ("steam to drying drum", "C-316-OP2", "torsion_fatigue"),
    ("cleaning supply", "C-304-OP1", "install_damage"),
])
def test_true_parameters_are_recovered_from_the_lives(truth, application_class, construction,
                                                      mechanism):
    lives = table(truth)
    mine = ((lives["application_class"] == application_class) & ~lives["is_planted"]
            & (lives["construction"] == construction))
    (shape, scale), n_failures = weibull_fit(
        {name: column[mine] for name, column in lives.items()}, mechanism)
    true = next(item for item in truth["strata"] if (
        item["application_class"], item["construction"], item["mechanism"]
    ) == (application_class, construction, mechanism))
    assert n_failures > 25
    # Large-sample spread of a Weibull shape and log scale from r failures: .78 and 1.05 / shape
    # over the square root of r; three times that, widened for the many suspensions.
    spread = 3.0 * 1.5 / np.sqrt(n_failures)
    assert abs(np.log(shape / true["shape"])) < 0.78 * spread
    assert abs(np.log(scale / true["characteristic_life_days"])) < 1.05 * spread / shape


def test_places_differ_as_the_scenario_says(truth):
    rates = np.array(list(truth["relative_rates"].values()))
    assert rates.mean() == pytest.approx(1.0, abs=0.06)
    assert rates.var() == pytest.approx(1.0 / read_scenario()["fleet"]["frailty_nu"], rel=0.2)


def test_hoses_of_the_bad_batch_fail_early(truth):
    lives = table(truth)
    is_early = (lives["mechanism"] != "") & (lives["age"] < 200)
    same = (lives["construction"] == truth["batch"]["construction"]) & (lives["entry"] == 0)
    weak = np.isin(lives["hose_id"], truth["batch"]["hose_ids"])
    assert weak.sum() > 60
    assert is_early[same & weak].mean() > 3 * is_early[same & ~weak].mean()


def test_planted_places_and_trials_show(truth):
    lives = table(truth)
    failed = (lives["mechanism"] != "") & lives["is_recorded"]
    for item in truth["planted_places"]:
        mine = failed & (lives["service_point"] == item["service_point"])
        assert (mine & (lives["mechanism"] == item["mechanism"])).sum() >= 2
    line = np.char.startswith(lives["service_point"], "HD-2 ")
    others = (lives["application_class"] == "homogeniser discharge") & ~line
    assert np.median(lives["age"][failed & line]) < 0.7 * np.median(lives["age"][failed & others])
    decided, running = truth["trials"]
    assert "decision" in decided
    assert "decision" not in running
    assert decided["arms"]["flexible"]["n_failures"] > decided["arms"]["stiff"]["n_failures"]
