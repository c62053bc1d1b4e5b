"""Whether an address reaches no further than this machine."""

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
