"""The commands: arguments, exit statuses and messages; no logic of their own.

Exit statuses: 0 done; 1 done, but rows or files were refused beyond the stated limit;
2 the call or its input cannot be used.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from etl import cli_account, run
from etl.counted import counted
from etl.errors import BraidlifeError

app = typer.Typer(
    add_completion=False, no_args_is_help=True, pretty_exceptions_enable=False,
    help="How long each kind of hose lasts in each kind of service, from your own logs.",
)
app.add_typer(cli_account.app, name="account")
errors = Console(stderr=True, highlight=False, soft_wrap=True)

DEFAULT_STORE = Path(os.environ.get("BRAIDLIFE_STORE", "braidlife-store"))
Store = Annotated[Path, typer.Option("--store", help="Folder that keeps logs and editions.")]
Json = Annotated[bool, typer.Option("--json", help="Print the result as JSON.")]


def _progress() -> Callable[[str], None]:
    """Return a printer of progress: one changing line on a terminal, plain lines elsewhere."""
    def say(step: str) -> None:
        if errors.is_terminal:
            errors.print(f"[dim]{step}[/dim]")
        else:
            print(step, file=sys.stderr, flush=True)
    return say


@app.command()
def demo(
    store: Store = DEFAULT_STORE,
    port: Annotated[int, typer.Option(help="Port; 0 takes a free one.")] = 0,
    serve: Annotated[bool, typer.Option(help="Serve the pages afterwards.")] = True,
) -> None:
    """Make the invented demo fleet, load it, publish it and serve the pages."""
    outcome = run.demo(store, _progress())
    print(outcome.summary())
    if serve:
        print("Forecasts from the last 24 month ends follow beside the pages, in some minutes.")
        run.start_track_record(store)
        run.serve(store, "127.0.0.1", port)


@app.command()
def check(
    path: Annotated[Path, typer.Argument(help="A file or a folder of logs.")],
    write: Annotated[bool, typer.Option("--write", help="Write the proposed mapping.")] = False,
    json_: Json = False,
) -> None:
    """Read logs without loading them: columns, a proposed mapping, what would be refused."""
    report = run.check(path, write=write, say=_progress())
    print(json.dumps(report.as_dict(), indent=2, default=str) if json_ else report.text())
    raise typer.Exit(1 if report.n_refused else 0)


@app.command()
def load(
    path: Annotated[
        Path | None, typer.Argument(help="A file or a folder of logs; none: build again.")
    ] = None,
    store: Store = DEFAULT_STORE,
    as_of: Annotated[
        str | None, typer.Option("--as-of", help="Data date YYYY-MM-DD; default: latest logged.")
    ] = None,
    track_record: Annotated[
        bool, typer.Option("--track-record", help="Also forecast from earlier months, "
                           "with what was known then; only months not kept yet.")
    ] = False,
    partitions: Annotated[
        str | None, typer.Option(help="Folder or object store that gets this load's part of a "
                                 "fleet, for `braidlife fleet`.")
    ] = None,
    refused_limit: Annotated[
        float, typer.Option(help="Share of refused rows above which the exit status is 1.")
    ] = 0.02,
    json_: Json = False,
) -> None:
    """Load logs, estimate lives and publish a new edition."""
    outcome = run.load(path, store, as_of=as_of, track_record=track_record, partitions=partitions,
                       say=_progress())
    print(json.dumps(outcome.as_dict(), indent=2) if json_ else outcome.summary())
    too_many = outcome.n_rows > 0 and outcome.n_refused > refused_limit * outcome.n_rows
    raise typer.Exit(1 if too_many or outcome.refused_files else 0)


@app.command()
def fleet(
    folder: Annotated[str, typer.Argument(
        help="Where the sites' loads left their partitions: a folder or an object store.")],
    store: Store = DEFAULT_STORE,
    workers: Annotated[
        int, typer.Option(min=1, max=256, help="Processes of this machine.")
    ] = 1,
    cluster: Annotated[
        str | None, typer.Option(help="Address of a dask scheduler, in place of processes.")
    ] = None,
    tls: Annotated[
        Path | None, typer.Option(help="Folder with ca.pem, cert.pem, key.pem for a tls:// "
                                  "address.")
    ] = None,
    json_: Json = False,
) -> None:
    """Estimate a fleet that outgrows one machine, from the partitions of its sites."""
    outcome = run.fleet(folder, store, workers=workers, cluster=cluster, tls=tls, say=_progress())
    print(json.dumps(outcome.as_dict(), indent=2) if json_ else outcome.summary())


@app.command()
def fit(
    file: Annotated[Path, typer.Argument(help="A table of lives: CSV, TSV, XLSX or Parquet.")],
    json_: Json = False,
    confidence: Annotated[float, typer.Option(help="Content of the bounds.")] = 0.90,
    bounds: Annotated[
        str, typer.Option(help="Kind of bounds: likelihood, normal or bootstrap.")
    ] = "likelihood",
    survival_at: Annotated[
        list[float] | None, typer.Option(help="Age to state survival to; may be repeated.")
    ] = None,
    full: Annotated[
        bool, typer.Option("--full", help="Add mean life, goodness of fit and other laws.")
    ] = False,
) -> None:
    """Fit a two-parameter Weibull distribution to each group of a table of lives."""
    result = run.fit(file, confidence, bounds, survival_at or (), full)
    print(json.dumps(result, indent=2, allow_nan=False) if json_ else run.render_fit(result))
    raise typer.Exit(1 if result["refused"] else 0)


@app.command()
def serve(
    store: Store = DEFAULT_STORE,
    host: Annotated[
        str, typer.Option(help="Address; beyond this machine only with accounts.")
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option(help="Port; 0 takes a free one.")] = 8050,
    log_json: Annotated[
        bool, typer.Option("--log-json", help="JSON lines on stderr, one for each request.")
    ] = False,
    processes: Annotated[
        int, typer.Option(min=0, max=64, help="Processes; 0: as many as cores, at most 4.")
    ] = 0,
    name: Annotated[
        list[str] | None, typer.Option(help="Name that browsers ask under; may be repeated.")
    ] = None,
) -> None:
    """Serve the pages of a store."""
    run.serve(store, host, port, log_json, processes, tuple(name or ()))


@app.command()
def export(
    table: Annotated[str, typer.Argument(help="A published table, such as ranking or refused.")],
    out: Annotated[Path, typer.Option("--out", help="File to write: .csv, .xlsx or .parquet.")],
    store: Store = DEFAULT_STORE,
) -> None:
    """Write a published table to a file."""
    rows = run.export(store, table, out, lambda line: print(line, file=sys.stderr))
    print(f"{counted(rows, 'row')} of {table} written to {out.name}")


@app.command()
def report(
    out: Annotated[Path, typer.Option(
        "--out", help="A file ending in .html, .xlsx or .pdf, or a folder for all three.")],
    store: Store = DEFAULT_STORE,
    month: Annotated[
        str | None, typer.Option(help="An earlier month, YYYY-MM; the current edition's if left.")
    ] = None,
) -> None:
    """Write the report of a month: one HTML file, one workbook, a PDF where it can be made."""
    print(run.report(store, out, month))


@app.command()
def backup(
    file: Annotated[Path, typer.Argument(help="File to write; it must not exist yet.")],
    store: Store = DEFAULT_STORE,
    json_: Json = False,
) -> None:
    """Write everything that a store keeps into one file, also while a load runs."""
    done = run.back_up(store, file)
    print(json.dumps(done.as_dict(), indent=2) if json_ else done.summary())
    raise typer.Exit(1 if done.damaged or done.left_out else 0)


@app.command()
def restore(
    file: Annotated[Path, typer.Argument(help="Written by `braidlife backup`.")],
    store: Store = DEFAULT_STORE,
    replace: Annotated[
        bool, typer.Option("--replace", help="Rename a store that is there and take its place.")
    ] = False,
    json_: Json = False,
) -> None:
    """Make a store of a backup; never over a store that is there, unless told so."""
    done = run.restore(file, store, is_replacing=replace)
    print(json.dumps(done.as_dict(), indent=2) if json_ else done.summary())


def main() -> None:
    """Run the command line; an expected error is one sentence, never a traceback."""
    try:
        app()
    except BraidlifeError as exc:
        errors.print(f"braidlife: {exc}", markup=False)
        raise SystemExit(2) from None
    except KeyboardInterrupt:
        errors.print("stopped")
        raise SystemExit(2) from None
