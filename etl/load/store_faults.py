"""Words for a store that cannot be read or written; never a path of the machine in them."""

from __future__ import annotations

import errno
import re
import shutil
from pathlib import Path

from etl.errors import StoreError

FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
SPENT = ("No space left", "File too large", "Out of Memory")
"""What the database says in place of a number."""
PATH = re.compile(r"""(["'])(?:[^"'\n]*/)[^"'\n]*\1|(?<!\S)/\S+""")
UNTOUCHED = "The published edition is untouched."


def plain(exc: BaseException) -> str:
    """Return the reason of a fault on one line, without the path of a machine.

    Examples
    --------
    >>> plain(OSError(28, "No space left on device", "/data/store/work.tmp"))
    'No space left on device'
    >>> plain(ValueError('Could not write to "/data/my store/x.tmp": File too large\\n\\nStack'))
    'Could not write to a file: File too large'
    """
    if isinstance(exc, OSError) and exc.strerror:
        return exc.strerror
    lines = str(exc).splitlines() or [type(exc).__name__]
    return PATH.sub("a file", lines[0]).rstrip(".")


def not_readable(file: str, exc: OSError) -> str:
    """Return what is said of a file of logs that the operating system does not let be read."""
    return (f"{file}: not readable ({plain(exc)}). Give this user the right to read it, and try"
            " again.")


def write_fault(store: Path, doing: str, exc: BaseException,
                again: str = "load again") -> StoreError:
    """Return the error of a store that could not be written: reason, free space, cure.

    Parameters
    ----------
    store : Path
        Folder of the store.
    doing : str
        What was being done, such as ``"edition 4 could not be written"``.
    exc : BaseException
        What the operating system or the database said.
    again : str
        What to do once more after the cure.
    """
    reason = plain(exc)
    number = exc.errno if isinstance(exc, OSError) else None
    if number in FULL or any(words in reason for words in SPENT):
        cure = f"Free some space ({_free(store)} MB are left) and {again}."
    elif number in (errno.EACCES, errno.EPERM, errno.EROFS):
        cure = "Give this user the right to write to the store, or choose another with --store."
    else:
        cure = f"{again.capitalize()}; if it happens again, choose another store with --store."
    return StoreError(f"{doing}: {reason}. {UNTOUCHED} {cure}")


def _free(store: Path) -> int:
    """Return the free space of the disk of a store in MB, 0 where it cannot be asked."""
    try:
        return shutil.disk_usage(store).free // 2**20
    except OSError:
        return 0
