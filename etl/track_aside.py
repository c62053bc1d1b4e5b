"""The track record of a store, made in a process of its own while its pages are shown already."""

from __future__ import annotations

import subprocess
import sys
import threading
from pathlib import Path

from etl.errors import StoreError


def start_track_record(store: Path) -> None:
    """Start forecasting from the earlier months of a published store; pages take it up when done.

    Parameters
    ----------
    store : Path

    Raises
    ------
    StoreError
        No process can be started.
    """
    try:
        process = subprocess.Popen(
            [sys.executable, "-m", "etl", "load", "--track-record", "--store",
             str(store.resolve())],
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
            cwd=Path(__file__).resolve().parents[1])
    except OSError as exc:
        raise StoreError(
            f"{store.name}: the track record could not be started ({exc}). The pages do not need "
            "it; make it later with: braidlife load --track-record") from exc
    # Somebody has to wait for it, or it stays in the list of processes after its end.
    threading.Thread(target=process.wait, daemon=True).start()
