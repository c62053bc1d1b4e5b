"""Who may import whom: the flow runs one way, so that statistics stay free of tables and pages."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent

# Longest matching prefix rules. Values: modules of this project that may be imported.
MAY_IMPORT = {
    "etl": ("etl.threads",),
    "etl.threads": (),
    "etl.errors": (),
    "etl.counted": (),
    "etl.paths": ("etl.errors",),
    "etl.parsed": ("etl.errors",),
    "etl.settings": ("etl.errors", "etl.parsed"),
    "etl.life": ("etl.errors", "etl.life"),
    "etl.decide": ("etl.errors", "etl.life", "etl.decide"),
    "etl.load": ("etl.errors", "etl.parsed", "etl.paths", "etl.settings", "etl.load"),
    "etl.fit_file": ("etl.errors", "etl.life", "etl.load"),
    "etl.load.own_export": ("etl.load", "etl.sheets"),
    "etl.sheets": (),
    "etl.export": ("etl.errors", "etl.load", "etl.sheets"),
    "etl.backup_archive": ("etl.errors",),
    "etl.backup_snapshot": ("etl.account", "etl.backup_archive", "etl.load"),
    "etl.backup": ("etl.errors", "etl.load", "etl.backup_archive", "etl.backup_snapshot"),
    "etl.backup_restore": ("etl.errors", "etl.load", "etl.backup_archive"),
    "etl.month_store": ("etl.errors", "etl.load"),
    "etl.health": (),
    "etl.outcome": ("etl.health", "etl.load"),
    "etl.demo": ("etl.errors", "etl.paths"),
    "etl.track_aside": ("etl.errors",),
    "etl.build": ("etl.errors", "etl.paths", "etl.settings", "etl.life", "etl.decide", "etl.load",
                  "etl.build"),
    "etl.scale": ("etl.errors", "etl.parsed", "etl.settings", "etl.threads", "etl.life",
                  "etl.decide", "etl.load", "etl.build", "etl.scale"),
    # What is entered is checked and judged as loaded rows are, by the same functions.
    "etl.entry": ("etl.audit", "etl.errors", "etl.parsed", "etl.settings", "etl.decide", "etl.load",
                  "etl.build", "etl.entry"),
    "etl.entry.job": ("etl.errors", "etl.load", "etl.parsed", "etl.refresh"),
    "etl.audit": ("etl.parsed",),
    "etl.account": ("etl.account", "etl.audit", "etl.errors", "etl.settings"),
    "etl.cli_account": ("etl.account",),
    # what pages start for themselves, so it knows nothing of pages
    "etl.refresh": ("etl.audit", "etl.build", "etl.demo", "etl.errors", "etl.load", "etl.outcome",
                    "etl.scale", "etl.settings"),
    "etl.run": ("etl", "dashboard.serve", "dashboard.report", "dashboard.queries.edition"),
    "etl.cli": ("etl.errors", "etl.run", "etl.cli_account"),
    "etl.__main__": ("etl.cli",),
    "dashboard": ("dashboard",),
    "dashboard.words": ("dashboard", "etl.counted"),
    "dashboard.accounts": ("dashboard", "etl.account", "etl.audit", "etl.errors"),
    # the one door for writing
    "dashboard.actions": ("dashboard", "etl.audit", "etl.entry", "etl.errors"),
    "dashboard.actions.incoming": ("dashboard", "etl.entry", "etl.errors"),  # its wing for files
    "dashboard.actions.trial": ("dashboard", "etl.entry"),  # for trials
    "dashboard.actions.swap": ("dashboard", "etl.entry", "etl.errors"),  # and for swapped hoses
    "dashboard.units": ("dashboard", "etl.paths"),  # one table of factors for loading and showing
    # formulas for figures that a reader types: the same functions as the screens of every place
    "dashboard.queries.physics": ("dashboard", "etl.decide.screens", "etl.load.seeds"),
    # the guide can be read before there is an edition
    "dashboard.queries.guide": ("dashboard", "etl.load.columns", "etl.load.seeds"),
    # how far the record is that a process of its own makes; it is in no edition yet
    "dashboard.queries.track": ("dashboard", "etl.track_aside"),
    "dashboard.downloads": ("dashboard", "etl.sheets"),
    "dashboard.report": ("dashboard", "etl.sheets"),
}
ANY_OF_ETL_MAY = ("etl.counted",)
"""How a count is written with its noun."""
ONLY_IN = {
    "duckdb": ("etl.load", "etl.build", "etl.entry.rows", "etl.refresh", "etl.outcome",
               "etl.health", "etl.export", "etl.fit_file", "etl.scale.folder",
               "etl.scale.partitions", "etl.scale.atoms", "etl.scale.places", "etl.month_store",
               "dashboard.queries.edition", "dashboard.queries.opened"),
    "reliability": ("etl.life.plotting",),
    "matplotlib": ("etl.life.plotting",),
    "distributed": ("etl.scale.cluster",),
    "fsspec": ("etl.scale.folder",),
    "typer": ("etl.cli", "etl.cli_account"),
    "waitress": ("dashboard.serve", "dashboard.stop"),
}
HEAVY = ("reliability", "matplotlib", "dashboard", "distributed", "dask")
"""Never at module level of etl: they cost seconds of every command."""


def modules() -> list[tuple[str, Path]]:
    found = []
    for package in ("etl", "dashboard"):
        for path in sorted((ROOT / package).rglob("*.py")):
            name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
            found.append((name.removesuffix(".__init__"), path))
    return found


def imported(tree: ast.AST) -> list[str]:
    names = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            names += [f"{node.module}.{alias.name}" for alias in node.names]
    return names


def under(name: str, prefixes: tuple[str, ...]) -> bool:
    return any(name == prefix or name.startswith(prefix + ".") for prefix in prefixes)


def rule_for(name: str) -> tuple[str, ...]:
    best = max((key for key in MAY_IMPORT if under(name, (key,))), key=len, default=None)
    return (MAY_IMPORT[best] if best else ()) + (ANY_OF_ETL_MAY if under(name, ("etl",)) else ())


@pytest.mark.parametrize(("name", "path"), modules(), ids=lambda value: str(value).split("/")[-1])
def test_module_imports_only_what_it_may(name, path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    ours = [item for item in imported(tree) if under(item, ("etl", "dashboard"))]
    wrong = [
        item for item in ours if not under(item, rule_for(name)) and item != "etl.__version__"
    ]
    assert not wrong, f"{name} must not import {wrong}"
    for item in imported(tree):
        top = item.split(".")[0]
        if top in ONLY_IN:
            assert under(name, ONLY_IN[top]), f"{name} must not import {top}"


@pytest.mark.parametrize(("name", "path"), modules(), ids=lambda value: str(value).split("/")[-1])
def test_heavy_libraries_are_imported_inside_functions(name, path):
    if name.startswith("dashboard"):
        return
    tree = ast.parse(path.read_text(encoding="utf-8"))
    top = ast.Module([node for node in tree.body if isinstance(node, ast.Import | ast.ImportFrom)],
                     [])
    assert not [item for item in imported(top) if under(item, HEAVY)]


def test_the_rules_notice_a_forbidden_import():
    tree = ast.parse("def f():\n    from etl import run\n")
    assert imported(tree) == ["etl.run"]
    assert not under("etl.run", rule_for("etl.life.fit"))
