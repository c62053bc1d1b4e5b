"""What a password must be, and how it is kept.

NIST SP 800-63B-4, section 3.1.1.2: at least 15 signs where the password is the only proof, at
least 64 allowed, all Unicode and spaces, no rules of composition, no change without cause, and a
list of what is commonly chosen. The numbers are from memory of that text.
"""

from __future__ import annotations

import re
import threading
import unicodedata

import argon2

from etl.errors import InputError

SHORTEST, LONGEST = 15, 1000
COMMON = (
    "password", "passwort", "passphrase", "letmein", "welcome", "qwerty", "qwertz", "azerty",
    "qwertyuiop", "asdfgh", "asdfghjkl", "zxcvbn", "zxcvbnm", "1qaz2wsx", "3edc4rfv", "1q2w3e4r",
    "5t6y7u8i", "q1w2e3r4", "t5y6u7i8", "abcdefghijklmnopqrstuvwxyz", "abc", "admin",
    "administrator", "login", "secret", "changeme", "default", "guest", "root", "user", "master",
    "iloveyou", "monkey", "dragon", "sunshine", "princess", "football", "baseball", "superman",
    "batman", "trustno", "shadow", "correcthorsebatterystaple", "correct horse battery staple",
    "thequickbrownfox", "the quick brown fox", "jumpsoverthelazydog", "tobeornottobe", "whatever",
    "starwars", "freedom", "hello", "hallo", "summer", "winter", "spring", "autumn", "my", "the",
    "is", "this", "test", "pass", "word", "maintenance", "braidlife", "hose", "hoses",
)
"""Common choices, from memory; what is made of nothing but these, digits and marks is one too."""
ROOM = threading.Semaphore(2)
"""Hashing takes 64 MB each time: two at once, the others wait their turn."""
HASHER = argon2.PasswordHasher()


def check_password(password: str, name: str) -> None:
    """Refuse a password that is too short or commonly chosen.

    Parameters
    ----------
    password : str
    name : str
        Of the account; its words are no secret.

    Raises
    ------
    InputError
        With what to do.
    """
    text = normal(password)
    if not SHORTEST <= len(text) <= LONGEST:
        raise InputError(f"password: it needs at least {SHORTEST} signs, and at most {LONGEST}; "
                         "several words with spaces are fine.")
    if is_common(text, name):
        raise InputError("password: this is one of those that are tried first (common words, rows "
                         "of keys or digits, repetition, your name). Take words of your own.")


def is_common(password: str, name: str) -> bool:
    """Tell whether a password is made of nothing but common choices, or repeats a few signs.

    Examples
    --------
    >>> is_common("Password 1234567!", "Ann"), is_common("copper kettle on the roof", "Ann")
    (True, False)
    """
    text = normal(password).casefold()
    if re.fullmatch(r"(.{1,8}?)\1+.{0,7}", text, re.DOTALL) and len(set(text)) <= 8:
        return True
    left = text
    words = [*COMMON, *(part for part in normal(name).casefold().split() if len(part) > 1)]
    for word in sorted(words, key=lambda each: (-len(each), each)):
        left = left.replace(word, "\0")
    return not re.search(r"[^\W\d_]", left)


def normal(password: str) -> str:
    """Return a password in one form, however the keyboard put its accents together."""
    return unicodedata.normalize("NFC", password)


def kept(password: str) -> str:
    """Return the hash to keep of a password."""
    with ROOM:
        return HASHER.hash(normal(password))


def fits(password: str, password_hash: str | None) -> bool:
    """Tell whether a password is the one of a hash; without a hash it takes as long and is not."""
    if len(password) > LONGEST:
        return False
    with ROOM:
        if password_hash is None:
            HASHER.hash(normal(password))
            return False
        try:
            return HASHER.verify(password_hash, normal(password))
        except (argon2.exceptions.VerificationError, argon2.exceptions.InvalidHashError):
            return False
