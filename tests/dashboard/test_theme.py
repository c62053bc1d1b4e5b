"""Colours can be read, both schemes name the same roles, nothing comes from outside."""

import re
from pathlib import Path

import pytest

from dashboard import theme

ASSETS = Path(theme.__file__).parent / "assets"


def luminance(colour):
    channels = [int(colour[i:i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_of_black_on_white_is_21():
    # WCAG 2.2, definition of contrast ratio: from 1 to 21.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("scheme", [theme.LIGHT, theme.DARK], ids=["light", "dark"])
@pytest.mark.parametrize("text", ["ink", "muted", "petrol", "rust", "ochre"])
@pytest.mark.parametrize("ground", ["paper", "sheet"])
def test_text_meets_wcag_2_2_criterion_1_4_3(scheme, text, ground):
    assert contrast(scheme[text], scheme[ground]) >= 4.5


@pytest.mark.parametrize("scheme", [theme.LIGHT, theme.DARK], ids=["light", "dark"])
@pytest.mark.parametrize("ground", ["petrol-soft", "rust-soft", "ochre-soft"])
def test_text_on_tinted_ground_can_be_read(scheme, ground):
    assert contrast(scheme["ink"], scheme[ground]) >= 4.5


@pytest.mark.parametrize("scheme", [theme.LIGHT, theme.DARK], ids=["light", "dark"])
def test_outline_of_inputs_meets_wcag_2_2_criterion_1_4_11(scheme):
    assert contrast(scheme["edge"], scheme["paper"]) >= 3.0


def test_both_schemes_name_the_same_roles():
    assert list(theme.LIGHT) == list(theme.DARK)


def test_light_colours_are_distinct_so_that_each_can_be_exchanged():
    assert len(set(theme.LIGHT.values())) == len(theme.LIGHT)


def test_style_sheets_use_only_named_values():
    known = set(re.findall(r"--([a-z0-9-]+):", theme.style_variables()))
    for module in ASSETS.parent.rglob("*.py"):  # set on one element, such as a number of columns
        known |= set(re.findall(r'"--([a-z0-9-]+)"', module.read_text(encoding="utf-8")))
    for sheet in ASSETS.glob("*.css"):
        text = sheet.read_text(encoding="utf-8")
        own = set(re.findall(r"--([a-z0-9-]+)\s*:", text))
        used = set(re.findall(r"var\(--([a-z0-9-]+)\)", text))  # those without a stand-in
        assert used - known - own == set(), sheet.name


def test_only_a_screen_is_narrow():
    """A sheet of paper is narrower than most windows, and a table on it is still a table."""
    for sheet in ASSETS.glob("*.css"):
        text = sheet.read_text(encoding="utf-8")
        assert not re.search(r"@media \(m(ax|in)-width", text), sheet.name


def test_assets_name_no_address_outside():
    for asset in [*ASSETS.glob("*.css"), *ASSETS.glob("*.js")]:
        assert not re.search(r"https?://|//[a-z]+\.", asset.read_text(encoding="utf-8")), asset.name


def test_the_font_comes_with_its_licence():
    assert list((ASSETS / "fonts").glob("*.woff2"))
    licence = (ASSETS / "fonts" / "source-sans-3-OFL.txt").read_text(encoding="utf-8")
    assert "SIL OPEN FONT LICENSE" in licence
