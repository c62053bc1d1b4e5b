"""How decisions write what they say."""

SPACE = "\u00a0"


def percent(share: float) -> str:
    r"""Return a share in whole percent, number and sign kept on one line.

    Examples
    --------
    >>> percent(0.314)
    '31\xa0%'
    """
    return f"{100.0 * share:.0f}{SPACE}%"
