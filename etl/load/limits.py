"""How much memory the database of a build may take before it writes to the store's disk."""

from __future__ import annotations

from pathlib import Path

LEAST_BYTES = 500_000_000
"""Below this the largest steps spill so much that a small fleet already waits for the disk."""
MEMINFO = Path("/proc/meminfo")
GROUP = Path("/sys/fs/cgroup")
GROUP_FILES = (("memory.max", "memory.current"),
               ("memory/memory.limit_in_bytes", "memory/memory.usage_in_bytes"))
"""Limit and use, as the present and as the first version of the system's groups name them."""


def build_memory(megabytes: int, meminfo: Path = MEMINFO, group: Path = GROUP) -> int | None:
    """Return the limit of the database's memory.

    Parameters
    ----------
    megabytes : int
        As set; 0 takes half of what is free: the statistics of the same build and the pages need
        the rest.
    meminfo, group : Path
        Where Linux tells of its memory, and of the limit set for a group of processes.

    Returns
    -------
    int or None
        Bytes; None where nothing is set and the system does not tell, so that the database
        chooses by itself.
    """
    if megabytes > 0:
        return megabytes * 1_000_000
    known = [amount for amount in (_free(meminfo), _left_in_group(group)) if amount is not None]
    return max(LEAST_BYTES, min(known) // 2) if known else None


def _free(meminfo: Path) -> int | None:
    """Return the bytes that can be had without taking any from another program."""
    try:
        lines = meminfo.read_text(encoding="ascii").splitlines()
        return next(int(line.split()[1]) * 1024 for line in lines
                    if line.startswith("MemAvailable:"))
    except (OSError, ValueError, IndexError, StopIteration):
        return None


def _left_in_group(group: Path) -> int | None:
    """Return the bytes left below the limit of this group of processes; None without a limit."""
    for names in GROUP_FILES:
        try:
            limit, used = (int((group / name).read_text(encoding="ascii")) for name in names)
        except (OSError, ValueError):  # no such file, or the word "max"
            continue
        return max(0, limit - used)
    return None
