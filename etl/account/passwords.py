"""What a password must be, and how it is kept.

NIST SP 800-63B-4, section 3.1.1.2, read in its second public draft (August 2024): at least 15
signs, at least 64 allowed, all Unicode and spaces, each code point one sign, compatibility forms
made one (NFKC), nothing cut off, no rules of composition, no change without cause, pasted text, a
way to see what is typed, a cost of the hash that grows, and a list of what is commonly chosen, to
which the whole password is compared. That the final text demands the 15 where a password is the
only proof is from memory.
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
"""Common choices, from memory; what is made of nothing but these, rows of keys or letters, digits
and marks is one too, also backwards, or with signs in the place of letters."""
ROWS = ("abcdefghijklmnopqrstuvwxyz", "qwertyuiop", "qwertzuiopü", "azertyuiop", "asdfghjklöä",
        "qsdfghjklm", "zxcvbnm", "yxcvbnm", "wxcvbn", "qaz", "wsx", "edc", "rfv", "tgb", "yhn",
        "ujm", "qay", "ysx")
"""The alphabet, and keys that lie side by side or one below the other."""
IN_A_ROW = 3
LOOK_ALIKES = [str.maketrans("@4$53017!", f"aasseo{one}ti") for one in "li"]
"""Signs in the place of letters; the figure one stands for two of them."""
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
    if not SHORTEST <= _length(password) <= LONGEST:
        raise InputError(f"password: it needs at least {SHORTEST} signs, and at most {LONGEST}; "
                         "several words with spaces are fine.")
    if is_common(password, name):
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
    names = {part for part in normal(name).casefold().split() if len(part) > 1}
    told = {*COMMON, *names, *(row[at:at + IN_A_ROW] for row in ROWS
                               for at in range(len(row) - IN_A_ROW + 1))}
    words = told | {word[::-1] for word in told}
    taken = [False] * len(text)
    for read in (text, *(text.translate(alike) for alike in LOOK_ALIKES)):
        for word in words:
            for found in re.finditer(f"(?={re.escape(word)})", read):
                taken[found.start():found.start() + len(word)] = [True] * len(word)
    return all(is_taken or not sign.isalpha() for sign, is_taken in zip(text, taken, strict=True))


def normal(password: str) -> str:
    """Return a password in one form, however the keyboard put its accents and widths together."""
    return unicodedata.normalize("NFKC", password)


def _length(password: str) -> int:
    """Return how many signs were typed: accents count with their letter, and none for several."""
    return len(unicodedata.normalize("NFC", password))


def kept(password: str) -> str:
    """Return the hash to keep of a password."""
    with ROOM:
        return HASHER.hash(normal(password))


def fits(password: str, password_hash: str | None) -> bool:
    """Tell whether a password is the one of a hash; without a hash it takes as long and is not."""
    if _length(password) > LONGEST:
        return False
    with ROOM:
        if password_hash is None:
            HASHER.hash(normal(password))
            return False
        try:
            return HASHER.verify(password_hash, normal(password))
        except (argon2.exceptions.VerificationError, argon2.exceptions.InvalidHashError):
            return False


def is_outdated(password_hash: str) -> bool:
    """Tell whether a hash costs a guesser less than one made today would."""
    return HASHER.check_needs_rehash(password_hash)
