"""A store with an account of each role, small ones for single tests, and a clock that obeys."""

import pytest

from dashboard.app import create_app
from etl.account import book, keep, passwords
from tests.accounts.house import NAMES, PASSWORD, enter
from tests.dashboard.edition_maker import make_edition


@pytest.fixture(autouse=True, scope="session")
def quick_hashes():
    """Passwords of tests need no slow hash."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(passwords, "HASHER", passwords.argon2.PasswordHasher(1, 8, 1))
        yield


@pytest.fixture(scope="session")
def house(tmp_path_factory, quick_hashes):
    """A store with one account of each role, its app, and a signed-in client for each."""
    store = tmp_path_factory.mktemp("accounts")
    make_edition(store, "full")
    for role in reversed(book.ROLES):
        keep.add(store, NAMES[role], role, PASSWORD)
    app = create_app(store)
    clients = {None: app.server.test_client()}
    for role in book.ROLES:
        clients[role] = app.server.test_client()
        assert enter(clients[role], NAMES[role]).status_code == 303
    clients["viewer"].get("/")
    return store, app, clients


@pytest.fixture
def another(tmp_path):
    """A small store of a test's own, with its keeper, and a client that has signed in."""
    keep.add(tmp_path, "Ann", "keeper", PASSWORD)
    client = create_app(tmp_path).server.test_client()
    assert enter(client, "Ann").status_code == 303
    return tmp_path, client


@pytest.fixture
def clock(monkeypatch):
    """A clock that goes on when told to."""
    at = [book.now()]
    monkeypatch.setattr(book, "now", lambda: at[0])

    def pass_by(seconds):
        at[0] += seconds

    return pass_by
