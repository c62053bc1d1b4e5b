"""Feed the readers and the page's questions files that grow from what they make the code do.

``python -m tests.bench.fuzz --minutes 20`` runs each target for its share of the time, in a process
of its own, with the library atheris: coverage of ``etl`` guides what comes next (extra ``fuzz``).
Whatever a file holds: no error but one written for a user, no row without account (raw = clean +
superseded + refused), no more than ten seconds for ten megabytes, each answer of the page taken up,
and a proposal that reads as it was tried. What breaks that is printed once a kind and its input
kept, and the run goes on.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
import traceback
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from pathlib import Path

SHARES = {"texts": 8, "books": 4, "old_books": 2, "parquet": 2, "repeated": 3, "mapping": 1,
          "journal": 1, "register": 1, "typed": 2, "proposed": 3, "asked": 4,
          "kept": 2}
"""Target -> parts of the time; what reads most forms gets most."""
LARGEST = 4096
"""Bytes of one input; `repeated` makes large files of small ones."""
WHOLE_EVERY = 12
"""One input in so many goes on to typed rows and lives, which takes ten times as long."""
EARLY = 0.9
"""A process that ends before this part of its time was stopped by something."""
SECONDS_PER_MB = 1.0
SECONDS_FREE = 2.0
"""Opening the database and its tables takes some of this for any file."""


@dataclass
class Told:
    """What a run found so far."""

    n_inputs: int = 0
    n_whole: int = 0
    slowest_s: float = 0.0
    kinds: dict[str, list[str]] = field(default_factory=dict)
    """Kind of a fault -> its input's file and what was said."""


class Run:
    """One target while it runs; survives what its inputs break."""

    def __init__(self, target: Callable[[bytes, bool], float], folder: Path) -> None:
        """Keep the target and where its findings go."""
        self.target, self.folder, self.told = target, folder, Told()

    def __call__(self, data: bytes) -> None:
        """Try one input."""
        told = self.told
        told.n_inputs += 1
        is_whole = told.n_inputs % WHOLE_EVERY == 0
        told.n_whole += is_whole
        started = time.process_time()
        try:
            allowed = self.target(data, is_whole)
        except (Exception, SystemExit) as exc:
            self.note(data, exc)
            return
        taken = time.process_time() - started
        told.slowest_s = max(told.slowest_s, taken)
        if not is_whole and taken > allowed:
            self.note(data, TimeoutError(f"{taken:.1f} s where {allowed:.1f} s are allowed"))
        if told.n_inputs % 20 == 0:
            self.write()

    def note(self, data: bytes, exc: BaseException) -> None:
        """Keep the first input of a kind of fault."""
        frames = traceback.extract_tb(exc.__traceback__)
        at = next((f"{Path(frame.filename).name}:{frame.lineno}" for frame in reversed(frames)
                   if "/etl/" in frame.filename), "the account")
        kind = f"{type(exc).__name__} at {at}"
        if kind not in self.told.kinds:
            kept = self.folder / f"finding-{len(self.told.kinds) + 1}"
            kept.write_bytes(data)
            self.told.kinds[kind] = [kept.name, str(exc)[:300]]
            self.write()

    def write(self) -> None:
        """Write what is known; the library ends the process without a word to anybody."""
        (self.folder / "told.json").write_text(json.dumps(asdict(self.told)), encoding="utf-8")


def child(name: str, folder: Path, seconds: int) -> None:
    """Run one target until its time is over; does not return."""
    import atheris

    with atheris.instrument_imports(include=["etl"]):
        from tests.bench import fuzz_page, fuzz_targets

    targets, pages = fuzz_targets.TARGETS | fuzz_page.TARGETS, fuzz_page.TARGETS

    corpus = folder / "corpus"
    corpus.mkdir(exist_ok=True)
    seeds = fuzz_page.seeds() if name in pages else fuzz_targets.seeds(name)
    for number, seed in enumerate(seeds):
        (corpus / f"seed-{number:02}").write_bytes(seed)
    # Looked up at each call: the library puts its working one there only once it runs.
    ways = {"books": fuzz_targets.parts_mutator, **dict.fromkeys(pages, fuzz_page.cells_mutator)}
    mutate = (ways[name](lambda data, most: atheris.Mutate(data, most))
              if name in ways else None)
    run = Run(targets[name], folder)
    arguments = [sys.argv[0], f"-max_total_time={seconds}", "-timeout=300", "-rss_limit_mb=3000",
                 f"-max_len={LARGEST if name != 'books' else 4 * LARGEST}", "-verbosity=0",
                 f"-artifact_prefix={folder}/native-", "-seed=20261126", str(corpus)]
    more = {"custom_mutator": mutate} if mutate else {}
    atheris.Setup(arguments, run, **more)
    atheris.Fuzz()


def main() -> int:
    """Run the targets one after another; print what was tried and found."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.fuzz")
    parser.add_argument("--minutes", type=float, default=20.0)
    parser.add_argument("--target", choices=list(SHARES), action="append")
    parser.add_argument("--out", type=Path, help="keep the corpus and what was found here")
    parser.add_argument("--child", nargs=3, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.child:
        child(given.child[0], Path(given.child[1]), int(given.child[2]))
    shares = {name: SHARES[name] for name in given.target or SHARES}
    with tempfile.TemporaryDirectory(prefix="fuzz-") as aside:
        out = given.out or Path(aside)
        n_faults = sum(_run(name, out / name, given.minutes * 60 * share / sum(shares.values()))
                       for name, share in shares.items())
    return 1 if n_faults else 0


def _run(name: str, folder: Path, seconds: float) -> int:
    """Run one target in a process of its own and print what came of it."""
    folder.mkdir(parents=True, exist_ok=True)
    started, used = time.monotonic(), _children_s()
    ended = subprocess.run(
        [sys.executable, "-m", "tests.bench.fuzz", "--child", name, str(folder), f"{seconds:.0f}"],
        env={**os.environ, "OMP_NUM_THREADS": "1"}, check=False, capture_output=True, text=True)
    try:
        told = json.loads((folder / "told.json").read_text(encoding="utf-8"))
    except OSError:
        print(f"{name}: did not start.\n{ended.stderr[-1500:]}")
        return 1
    native = sorted(item.name for item in folder.glob("native-*")
                    if "slow" not in item.name)
    wall = time.monotonic() - started
    if wall < EARLY * seconds and not native:
        native = [f"after {wall:.0f} s of {seconds:.0f}"]
    print(f"{name}: {told['n_inputs']} inputs in {wall / 60:.1f} min, of the processor "
          f"{(_children_s() - used) / 60:.1f}; {told['n_whole']} of them to lives, "
          f"{len(list((folder / 'corpus').iterdir()))} kept in the corpus, slowest "
          f"{told['slowest_s']:.1f} s; {len(told['kinds'])} kinds of fault, {len(native)} crashes",
          flush=True)
    for kind, (kept, said) in told["kinds"].items():
        print(f"  {kind} ({kept}): {said}")
    for item in native:
        print(f"  the process ended: {item}\n{ended.stderr[-1500:]}")
    return len(told["kinds"]) + len(native)


def _children_s() -> float:
    """Return the processor seconds of the processes that have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


if __name__ == "__main__":
    sys.exit(main())
