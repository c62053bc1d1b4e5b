"""Which passwords will do, and the first account."""

import pytest

from etl.account import book, keep, passwords
from etl.errors import InputError, StoreError
from tests.accounts.house import PASSWORD


@pytest.mark.parametrize("password", [
    "copper kettle 7", "ключ от старого сарая", "軟管軟管壓力測試很久以前的故事",
    "quite a long way round the harbour and back again before the rain came down",
    "🐙🦑 eight arms and ten"])
def test_any_long_password_of_ones_own_will_do(password):
    passwords.check_password(password, "Ann")


@pytest.mark.parametrize("password", [
    "", "short", "fourteen signs", "password1234567", "PasswordPassword", "qwertyuiop12345",
    "aaaaaaaaaaaaaaaa", "abababababababab", "123456789012345", "Ann Baker Ann Baker",
    "correcthorsebatterystaple", "braidlife2026!!!", "x" * 1001])
def test_short_and_common_passwords_are_refused(password):
    with pytest.raises(InputError, match="password: "):
        passwords.check_password(password, "Ann Baker")


def test_one_password_typed_on_two_keyboards_is_one():
    assert passwords.fits("cafe\u0301 am alten Hafen", passwords.HASHER.hash("café am alten Hafen"))


def test_the_first_account_is_a_keeper(tmp_path):
    with pytest.raises(InputError, match="must be a keeper"):
        keep.add(tmp_path, "Ann", "viewer", PASSWORD)
    assert not book.exists(tmp_path)
    with pytest.raises(StoreError, match="there are none"):
        keep.remove(tmp_path, "Ann")
