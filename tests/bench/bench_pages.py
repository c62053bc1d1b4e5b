"""How long a warm page takes to answer, asked through the application without a browser.

Run: ``python tests/bench/bench_pages.py STORE [STORE] [--repeats 15]``. Prints the median and the
largest of the repeats in milliseconds for every page and every question of a table, sizes and
versions; with two stores, asked in turn, the ratio of the second to the first. An edition remembers
its answers: "asked anew" empties that memory before each repeat.
"""

from __future__ import annotations

import argparse
import platform
import statistics
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import dash
import duckdb
import flask

from dashboard.parts import place_href
from dashboard.queries import edition
from tests.dashboard.page_reader import Reader

Question = Callable[[], Any]


def timed(question: Question, repeats: int, before: Question = lambda: None) -> list[float]:
    """Return how long a question takes, ms; the first, cold, is left out."""
    question()
    taken = []
    for _ in range(repeats):
        before()
        start = time.perf_counter()
        question()
        taken.append(1000 * (time.perf_counter() - start))
    return taken


def questions(reader: Reader) -> dict[str, Question]:
    """Return what a person asks of the pages, by name."""
    with reader.app.server.app_context():
        places = edition.ask(
            "select service_point from ranking order by rank, service_point limit 1"
        )
        busiest = edition.ask(
            "select service_point from service_points order by n_lives desc, service_point limit 1"
        )
    first = places[0]["service_point"] if places else "none"
    most = busiest[0]["service_point"] if busiest else "none"

    def grid(sort: str, **filters: str) -> Question:
        request = {
            "startRow": 0, "endRow": 25, "sortModel": [{"colId": sort, "sort": "desc"}],
            "filterModel": {f"filter_{k}": {"filter": v} for k, v in filters.items()},
        }
        return lambda: reader.call(
            "..places-grid.getRowsResponse", {"places-grid.getRowsRequest": request}
        )

    return {
        "this month": lambda: reader.layout("/"),
        "places": lambda: reader.layout("/places"),
        "places: sort by cost": grid("expected_cost"),
        "places: sort by rate": grid("relative_rate"),
        "places: text filter": grid("expected_cost", text=first[:3]),
        "place: first in rank": lambda: reader.layout(place_href(first)),
        "place: most hoses": lambda: reader.layout(place_href(most)),
        "search": lambda: reader.call(
            "shell-search.data", {"shell-search.searchValue": first[:3]}
        ),
        "download places.csv": lambda: reader.client.get("/download/places.csv").get_data(),
        "download lives.xlsx": lambda: reader.client.get("/download/lives.xlsx").get_data(),
    }


def forgetting(reader: Reader) -> Question:
    """Return what makes a store forget the answers it has given."""
    with reader.app.server.app_context():
        edition.cursor()
        opened = flask.g.edition_opened

    def forget() -> None:
        opened.answers = edition.Answers()

    return forget


def main() -> None:
    """Print one line a question."""
    parser = argparse.ArgumentParser(description="Time the warm pages of one or two stores.")
    parser.add_argument("stores", type=Path, nargs="+")
    parser.add_argument("--repeats", type=int, default=15)
    options = parser.parse_args()
    print(f"{platform.machine()}, Python {platform.python_version()}, dash {dash.__version__}, "
          f"duckdb {duckdb.__version__}; {options.repeats} repeats; median and largest, ms")
    readers = [Reader(store) for store in options.stores]
    for reader in readers:
        with reader.app.server.app_context():
            now = edition.info()
        print(f"{now['n_service_points']:,} places, {now['n_lives']:,} lives")
    asked = [questions(reader) for reader in readers]
    forget = [forgetting(reader) for reader in readers]
    for name in asked[0]:
        for how in ("", " (asked anew)"):
            taken = [
                timed(of[name], options.repeats, again if how else lambda: None)
                for of, again in zip(asked, forget, strict=True)
            ]
            half = [statistics.median(times) for times in taken]
            shown = "".join(f"{m:>10.1f}{max(t):>9.1f}" for m, t in zip(half, taken, strict=True))
            print(f"{name + how:<36}{shown}   ratio {half[-1] / half[0]:.2f}")


if __name__ == "__main__":
    main()
