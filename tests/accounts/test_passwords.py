"""Which passwords will do, and the first account."""

import pytest

from dashboard.app import create_app
from etl.account import book, keep, passwords
from etl.errors import InputError, StoreError
from tests.accounts.house import PASSWORD, enter


@pytest.mark.parametrize("password", [
    "copper kettle 7", "ключ от старого сарая", "軟管軟管壓力測試很久以前的故事",
    "quite a long way round the harbour and back again before the rain came down",
    "🐙🦑 eight arms and ten"])
def test_any_long_password_of_ones_own_will_do(password):
    passwords.check_password(password, "Ann")


@pytest.mark.parametrize("password", [
    "", "short", "fourteen signs", "password1234567", "PasswordPassword", "qwertyuiop12345",
    "aaaaaaaaaaaaaaaa", "abababababababab", "123456789012345", "Ann Baker Ann Baker",
    "correcthorsebatterystaple", "braidlife2026!!!", "x" * 1001,
    # rows of keys and of the alphabet, whole or in parts, also backwards
    "abcdefghijklmno", "123456789abcdef", "zyxwvutsrqponml", "qwertyuiopasdfg", "poiuytrewqlkjhg",
    "qazwsxedcrfvtgb", "zaq12wsxcde34rfv",
    # common words with signs in the place of letters, and backwards
    "P@ssw0rd12345678", "p4$$w0rd_p4$$w0rd!", "drowssapdrowssap", "Dr0wss@p dr0wss@p",
    # one sign that stands for many is one
    "\ufdfa", "\ufdfa 1"])
def test_short_and_common_passwords_are_refused(password):
    with pytest.raises(InputError, match="password: "):
        passwords.check_password(password, "Ann Baker")


def test_one_password_typed_on_two_keyboards_is_one():
    for typed, first in (("cafe\u0301 am alten Hafen", "café am alten Hafen"),
                         ("ｗｉｄｅ letters of a far keyboard", "wide letters of a far keyboard")):
        assert passwords.fits(typed, passwords.kept(first))
    longest = "é" * 999 + "x"  # typed with marks of their own these are twice as many signs
    assert passwords.fits("e\u0301" * 999 + "x", passwords.kept(longest))


@pytest.mark.parametrize("cut", [1, 500, 985])
def test_no_password_is_cut_short(cut):
    long = "".join(chr(0x4e00 + number) for number in range(1000))
    passwords.check_password(long, "Ann")
    assert passwords.fits(long, kept := passwords.kept(long))
    assert not passwords.fits(long[:-cut], kept)
    assert not passwords.fits(long + "x", kept)


def test_a_hash_of_earlier_cost_is_made_anew_at_the_next_sign_in(another, monkeypatch):
    store, _ = another
    client = create_app(store).server.test_client()
    monkeypatch.setattr(passwords, "HASHER", passwords.argon2.PasswordHasher(2, 16, 1))

    def kept():
        with book.reading(store) as con:
            return con.execute("select password_hash from account").fetchone()[0]

    before = kept()
    assert enter(client, "Ann", "wrong").status_code == 401
    assert kept() == before
    assert enter(client, "Ann").status_code == 303
    assert "m=16,t=2" in (after := kept())
    assert enter(client, "Ann").status_code == 303
    assert kept() == after


def test_the_first_account_is_a_keeper(tmp_path):
    with pytest.raises(InputError, match="must be a keeper"):
        keep.add(tmp_path, "Ann", "viewer", PASSWORD)
    assert not book.exists(tmp_path)
    with pytest.raises(StoreError, match="there are none"):
        keep.remove(tmp_path, "Ann")
