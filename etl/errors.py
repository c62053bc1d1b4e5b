"""Errors that a user can act on.

The tree::

    BraidlifeError
    ├── InputError      a file, a column, a value or an argument is not usable as given
    ├── CheckError      a rule about the tables does not hold; nothing was published
    ├── FitError        lives handed to a statistic break its conditions
    └── StoreError      the store is locked, full, damaged, foreign or empty

Each message says where, what must hold, what was found and how often, and what to do.
File names appear without their folder, so that no path of a machine reaches a screen.
"""


class BraidlifeError(Exception):
    """Base of every error that this project raises on purpose."""


class InputError(BraidlifeError):
    """A file, a column, a value or an argument cannot be used as given."""


class CheckError(BraidlifeError):
    """A rule about the tables does not hold, so nothing was published."""


class FitError(BraidlifeError):
    """The lives handed to a statistic break its conditions."""


class StoreError(BraidlifeError):
    """The store is locked, full, damaged, made by another version, or empty."""
