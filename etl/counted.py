"""A count with its noun, one for one thing and many for all else."""

from __future__ import annotations


def counted(n: float, one: str, many: str | None = None) -> str:
    """Return a count with its noun.

    Parameters
    ----------
    n : float
        A whole number.
    one : str
        What one of them is called, and all that goes with it.
    many : str, optional
        What none or several are called; `one` with an s when left.

    Examples
    --------
    >>> counted(1, "hose"), counted(1204, "place"), counted(0, "life", "lives")
    ('1 hose', '1,204 places', '0 lives')
    """
    return f"{n:,.0f} {one if n == 1 else many or one + 's'}"
