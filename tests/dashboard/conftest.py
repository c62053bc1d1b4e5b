"""Three synthetic stores and the application over each: full, empty, hostile."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.dashboard.edition_maker import make_edition
from tests.dashboard.page_reader import Reader


@pytest.fixture(scope="session")
def stores(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    out = {}
    for state in ("full", "empty", "hostile"):
        out[state] = tmp_path_factory.mktemp(f"store-{state}")
        make_edition(out[state], state)
    return out


@pytest.fixture(scope="session")
def full(stores: dict[str, Path]) -> Reader:
    return Reader(stores["full"])


@pytest.fixture(scope="session")
def empty(stores: dict[str, Path]) -> Reader:
    return Reader(stores["empty"])


@pytest.fixture(scope="session")
def hostile(stores: dict[str, Path]) -> Reader:
    return Reader(stores["hostile"])
