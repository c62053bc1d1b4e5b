"""Regression of life on several figures at once against published fits; ids name the source.

The regression that vibration stands on, with places of one life each and any figure in the place of
the velocity: its exponent and its other coefficients shorten life, theirs lengthen it.
"""

import numpy as np
import pytest
from lifelines.datasets import load_rossi

from etl.life.vibration.data import VibrationData
from etl.life.vibration.plain import plain_fit
from tests.published.lives_data import published

EHA = ("R package eha, aftreg on left-truncated lives, as quoted by the lifelines test suite "
       "(test_fitted_coefs_with_eha_when_left_truncated)")


def regression(entry, low, high, first, others):
    """Return intercept, coefficients of log life and log shape, then the log likelihood."""
    n, seen = low.size, np.isfinite(high)
    scale = np.maximum(np.abs(np.column_stack([first, *others])).max(axis=0), 1e-9)
    centre = np.column_stack([first, *others]).mean(axis=0)
    each = (np.column_stack([first, *others]) - centre) / scale
    data = VibrationData(
        np.arange(n), np.zeros(n, int), entry, low, high, seen.astype(float), np.ones(n),
        np.zeros(n, int), each[:, 1:], np.full((n, 1), np.nan), np.zeros(1), np.zeros(0, int),
        np.zeros(0), np.zeros(n))
    theta, _, value = plain_fit(data, each[:, 0])
    slopes = -np.r_[theta[1], theta[3:]] / scale
    return np.r_[theta[0] - slopes @ centre, slopes], theta[2], value


@pytest.fixture(scope="module")
def arrests():
    """432 persons of the library lifelines, those arrested after week 10 seen from week 2 on."""
    rows = load_rossi()
    weeks = rows["week"].to_numpy(float)
    high = np.where(rows["arrest"] == 1, weeks, np.inf)
    named = ["fin", "age", "race", "wexp", "mar", "paro", "prio"]
    columns = [rows[name].to_numpy(float) for name in named]
    found, log_shape, _ = regression(np.where(weeks > 10, 2.0, 0.0), weeks, high, columns[0],
                                     columns[1:])
    return dict(zip(["intercept", *named], found, strict=True)) | {"log shape": log_shape}


@pytest.mark.filterwarnings("ignore::DeprecationWarning")  # of pandas, inside lifelines
@pytest.mark.parametrize(("name", "printed", "computed"), [
    pytest.param(*row, id=f"{EHA}, {row[0]}") for row in (
        ("fin", 0.28865175, 0.2886029), ("age", 0.04323855, 0.0432339),
        ("race", -0.23883560, -0.238816), ("wexp", 0.11339258, 0.1133538),
        ("mar", 0.33081212, 0.3307732), ("paro", 0.06303764, 0.0629952),
        ("prio", -0.06954257, -0.0695707), ("intercept", 3.98650094, 3.9867499),
        ("log shape", 0.27564733, 0.2756341))])
def test_lives_seen_late_with_seven_figures(arrests, name, printed, computed):
    """The printed figures are where an optimiser stopped; `computed` is nearer the peak."""
    assert arrests[name] == pytest.approx(printed, rel=1e-3)
    assert arrests[name] == pytest.approx(computed, rel=5e-6)


def capacitors(*, has_product):
    lives = published("glass_capacitors")
    volts, degrees = (np.array([float(group.split()[at]) for group in lives.group])
                      for at in (0, 2))
    others = [degrees, volts * degrees] if has_product else [degrees]
    return regression(lives.entry, lives.low, lives.high, volts, others)


@pytest.mark.parametrize(("coefficients", "spread", "log_likelihood"), [
    pytest.param([13.407017, -0.00591082, -0.02890466], 0.363809, -244.242343,
                 id="computed here on Meeker and Escobar 1998 Table 17.3, one shape; "
                    "R survival and lifelines agree")])
def test_cells_under_one_shape(coefficients, spread, log_likelihood):
    found, log_shape, value = capacitors(has_product=False)
    assert found == pytest.approx(coefficients, rel=1e-5)
    assert np.exp(-log_shape) == pytest.approx(spread, rel=1e-5)
    assert value == pytest.approx(log_likelihood, abs=1e-5)


@pytest.mark.parametrize(("spread", "log_likelihood"), [
    pytest.param(0.3624165, -244.1676,
                 id="computed here on Meeker and Escobar 1998 Table 17.3 with the product of "
                    "voltage and temperature; R survival")])
def test_cells_under_one_shape_with_a_product(spread, log_likelihood):
    _, log_shape, value = capacitors(has_product=True)
    assert np.exp(-log_shape) == pytest.approx(spread, abs=1e-6)
    assert value == pytest.approx(log_likelihood, abs=6e-5)
