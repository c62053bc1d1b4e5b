"""How long a warm page takes to answer, asked through the application without a browser.

Run: ``python tests/bench/bench_pages.py STORE [--repeats 15]``. Prints the median and the largest
of the repeats in milliseconds for every page and every question of a table, sizes and versions.
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

from dashboard.parts import place_href
from dashboard.queries import edition
from tests.dashboard.page_reader import Reader


def timed(question: Callable[[], Any], repeats: int) -> tuple[float, float]:
    """Return the median and the largest time of a question, ms; the first, cold, is left out."""
    question()
    taken = []
    for _ in range(repeats):
        start = time.perf_counter()
        question()
        taken.append(1000 * (time.perf_counter() - start))
    return statistics.median(taken), max(taken)


def questions(reader: Reader) -> dict[str, Callable[[], Any]]:
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

    def grid(sort: str, **filters: str) -> Callable[[], Any]:
        request = {
            "startRow": 0, "endRow": 25, "sortModel": [{"colId": sort, "sort": "desc"}],
            "filterModel": {f"filter_{k}": {"filter": v} for k, v in filters.items()},
        }  # fmt: skip
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


def main() -> None:
    """Print one line a question."""
    parser = argparse.ArgumentParser(description="Time the warm pages of a store.")
    parser.add_argument("store", type=Path)
    parser.add_argument("--repeats", type=int, default=15)
    options = parser.parse_args()
    reader = Reader(options.store)
    with reader.app.server.app_context():
        now = edition.info()
    print(f"{platform.machine()}, Python {platform.python_version()}, dash {dash.__version__}, "
          f"duckdb {duckdb.__version__}; {now['n_service_points']:,} places, "
          f"{now['n_lives']:,} lives; {options.repeats} repeats")  # fmt: skip
    print(f"{'question':<24}{'median ms':>12}{'largest ms':>12}")
    for name, question in questions(reader).items():
        median, largest = timed(question, options.repeats)
        print(f"{name:<24}{median:>12.1f}{largest:>12.1f}")


if __name__ == "__main__":
    main()
