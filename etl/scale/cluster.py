"""Work on a cluster of machines, through dask.distributed; an optional extra."""

from __future__ import annotations

import contextlib
import ipaddress
import logging
import time
import uuid
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any, TypeVar
from urllib.parse import urlsplit

from etl import __version__
from etl.counted import counted
from etl.errors import BraidlifeError, InputError, StoreError
from etl.load.store_faults import plain
from etl.scale.executors import NOTHING, PATIENCE_SECONDS, hanging

Task = TypeVar("Task")
Result = TypeVar("Result")

JOIN_SECONDS = 30.0
"""Within so long the scheduler must answer, and a worker have joined."""
LOOK_SECONDS = 1.0
LEAVE_SECONDS = 5.0
QUIET = ("distributed", "distributed.client", "distributed.core", "distributed.comm")
TLS_FILES = ("ca.pem", "cert.pem", "key.pem")
log = logging.getLogger("braidlife.scale")
AGAIN = f"{NOTHING} Start the scheduler and its workers again, then this command."


class Cluster:
    """Does the work on the workers of a scheduler.

    Parameters
    ----------
    address : str
        Of the scheduler, such as ``tls://10.0.0.5:8786``.
    tls : Path or None
        Folder with ``ca.pem``, ``cert.pem`` and ``key.pem``.
    patience_seconds : float
        Without any result for so long, the work is given up.

    Raises
    ------
    InputError
        The extra is not installed, the address is none, or is beyond this machine without TLS.
    StoreError
        The scheduler does not answer, no worker joins, or workers have other software.

    Notes
    -----
    A scheduler runs whatever it is sent. So beyond this machine nothing is sent to, or taken
    from, one that has not shown a certificate of the same authority.
    """

    def __init__(
        self, address: str, tls: Path | None = None, patience_seconds: float = PATIENCE_SECONDS
    ) -> None:
        """Join the cluster."""
        try:
            import distributed
        except ImportError as exc:
            raise InputError("--cluster: needs more software. Install braidlife[cluster].") from exc
        _refuse_open(address, tls)
        # What goes wrong is said in one sentence, not in the library's own pages as well.
        for name in QUIET:
            logging.getLogger(name).setLevel(logging.CRITICAL)
        self._patience = patience_seconds
        _join_again()
        # Made in two steps: one that finds no scheduler is closed here, and not as it is forgotten.
        self._client = distributed.Client.__new__(distributed.Client)
        try:
            self._client.__init__(
                address, security=_security(tls), timeout=JOIN_SECONDS, set_as_default=False)
        except (OSError, TimeoutError, ValueError) as exc:
            self.close()
            raise StoreError(f"--cluster: no scheduler answers at {address} ({plain(exc)}). "
                             f"{AGAIN}") from exc
        except BaseException:
            self.close()
            raise
        try:
            self._client.wait_for_workers(1, timeout=JOIN_SECONDS)
            self._refuse_others()
        except TimeoutError as exc:
            self.close()
            raise StoreError(f"--cluster: no worker has joined {address}. {AGAIN}") from exc
        except BaseException:
            self.close()
            raise

    def map(
        self, function: Callable[[Task], Result], tasks: Sequence[Task]
    ) -> Iterator[Result]:
        """Yield the result of each task; see `etl.scale.executors.Executor`.

        Notes
        -----
        What a lost worker had not handed over is done again by others; a task on which workers
        were lost several times is given up.
        """
        run = uuid.uuid4().hex[:8]
        keys = [f"{function.__name__}-{run}-{number}" for number in range(len(tasks))]
        futures = self._client.map(function, tasks, key=keys, pure=False, retries=0)
        number = {key: index for index, key in enumerate(keys)}
        ended: SimpleQueue[Any] = SimpleQueue()
        for future in futures:
            future.add_done_callback(ended.put)
        waiting = {future.key: future for future in futures}
        del futures
        done: dict[int, Any] = {}
        given = 0
        try:
            while waiting:
                future = self._next(ended, len(waiting))
                done[number[future.key]] = self._result(future, len(waiting))
                waiting.pop(future.key).release()
                while given in done:
                    yield done.pop(given)
                    given += 1
        finally:
            for future in waiting.values():
                future.release()

    def _next(self, ended: SimpleQueue[Any], n_left: int) -> Any:
        """Wait for the next future that has ended."""
        began = time.monotonic()
        while time.monotonic() - began < self._patience:
            with contextlib.suppress(Empty):
                return ended.get(timeout=LOOK_SECONDS)
            if self._client.status not in ("running", "connecting"):
                raise self._gone(n_left)
        raise hanging(self._patience, n_left)

    def _result(self, future: Any, n_left: int) -> Any:
        """Return the result of a future that has ended."""
        from distributed.client import FutureCancelledError
        from distributed.scheduler import KilledWorker

        try:
            return future.result(timeout=self._patience)
        except KilledWorker as exc:
            raise StoreError(
                f"workers ended again and again over one task, with {n_left} left; they may "
                f"lack memory. {NOTHING} Use fewer workers a machine.") from exc
        except BraidlifeError:
            raise
        except TimeoutError as exc:  # the worker that held the result is gone, and no other is left
            raise hanging(self._patience, n_left) from exc
        except (FutureCancelledError, OSError) as exc:
            raise self._gone(n_left) from exc

    def _gone(self, n_left: int) -> StoreError:
        return StoreError(f"the scheduler is gone, with {counted(n_left, 'task')} left. {AGAIN}")

    def _refuse_others(self) -> None:
        """Refuse workers whose software is another, before they bring other figures."""
        found = self._client.run(_software)
        mine = _software()
        others = sorted({words for words in found.values() if words != mine})
        if others:
            raise StoreError(f"workers must have the same software, {mine}, found {others[0]} "
                             f"({counted(len(others), 'kind')}). {NOTHING} Install it alike "
                             "everywhere.")

    def close(self) -> None:
        """Leave the cluster; it goes on without this client.

        Notes
        -----
        One that cannot say goodbye, since the scheduler is gone or busy, or that never got so far
        as to have anything to close, is left all the same: whatever became of the work has been
        told, and nothing of the client may come up again as it is forgotten.
        """
        try:
            self._client.close(timeout=LEAVE_SECONDS)
        except Exception as exc:
            log.debug("left without a word: %s", plain(exc))
            self._client.status = "closed"
            with contextlib.suppress(AttributeError, RuntimeError):
                self._client._loop_runner.stop()


def _join_again() -> None:
    """Let the library knock again where a connection ends just before it is made safe.

    Notes
    -----
    It tries again after an error of the system; this one, of a busy or dying scheduler, comes as
    a `ValueError`, which ends its task and leaves the client connecting for ever.
    """
    from distributed.comm.core import CommClosedError
    from distributed.comm.tcp import TLSBackend, TLSConnector

    class Connector(TLSConnector):  # type: ignore[misc]
        async def connect(self, address: str, *args: Any, **more: Any) -> Any:
            try:
                return await super().connect(address, *args, **more)
            except ValueError as exc:
                raise CommClosedError(f"the connection ended at once ({exc})") from exc

    if TLSBackend._connector_class is TLSConnector:
        TLSBackend._connector_class = Connector


def _software() -> str:
    """Return what figures depend on."""
    import numpy as np
    import scipy

    return f"Braidlife {__version__} on numpy {np.__version__} and scipy {scipy.__version__}"


def _refuse_open(address: str, tls: Path | None) -> None:
    """Refuse an address beyond this machine over which anyone could send work."""
    parts = urlsplit(address if "://" in address else f"tcp://{address}")
    try:
        is_complete = parts.hostname is not None and parts.port is not None
    except ValueError:
        is_complete = False
    if parts.scheme not in ("tcp", "tls") or not is_complete:
        raise InputError(f"--cluster: must read like tls://10.0.0.5:8786, got {address!r}.")
    is_near = parts.hostname == "localhost" or _is_loopback(str(parts.hostname))
    if parts.scheme == "tls" and tls is None:
        raise InputError("--cluster: a tls:// address needs --tls FOLDER with "
                         f"{', '.join(TLS_FILES)}.")
    if parts.scheme == "tcp" and not is_near:
        raise InputError(f"--cluster: {address} is beyond this machine, so it must be tls://, "
                         f"with --tls FOLDER that holds {', '.join(TLS_FILES)}.")


def _is_loopback(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _security(tls: Path | None) -> Any:
    """Return how connections are made safe."""
    if tls is None:
        return None
    from distributed.security import Security

    missing = [name for name in TLS_FILES if not (tls / name).is_file()]
    if missing:
        raise InputError(f"--tls: {missing[0]} is missing in this folder ({len(missing)} of "
                         f"{len(TLS_FILES)} files).")
    ca, cert, key = (str(tls / name) for name in TLS_FILES)
    return Security(require_encryption=True, tls_ca_file=ca, tls_client_cert=cert,
                    tls_client_key=key)
