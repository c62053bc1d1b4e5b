"""What an address is, and whether it reaches no further than this machine."""

from __future__ import annotations

import ipaddress


def is_loopback(host: str) -> bool:
    """Tell whether an address reaches no further than this machine.

    Examples
    --------
    >>> is_loopback("127.0.0.1"), is_loopback("localhost"), is_loopback("0.0.0.0")
    (True, True, False)
    """
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def is_address(text: str) -> bool:
    """Tell whether a text is an address of the Internet, with nothing beside it.

    Examples
    --------
    >>> is_address("192.0.2.7"), is_address("192.0.2.7:80"), is_address("unknown")
    (True, False, False)
    """
    try:
        ipaddress.ip_address(text)
    except ValueError:
        return False
    return True
