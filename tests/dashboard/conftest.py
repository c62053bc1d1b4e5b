"""Three synthetic stores and the application over each: full, empty, hostile."""

from __future__ import annotations

from pathlib import Path

import pytest

from dashboard import actions
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


@pytest.fixture
def store(tmp_path: Path) -> Path:
    """Folder that the pages of `reader` write into."""
    (tmp_path / "s").mkdir()
    return tmp_path / "s"


@pytest.fixture
def reader(full: Reader, store: Path, monkeypatch: pytest.MonkeyPatch) -> Reader:
    """The pages of the full edition, writing into a store of this test's own."""
    monkeypatch.setattr("etl.entry.job.start", lambda _: None)  # another test starts it
    monkeypatch.setitem(full.app.server.config, actions.KEY, actions.Actions(store, True))
    return full
