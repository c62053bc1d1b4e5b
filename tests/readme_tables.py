"""Write the tables of columns and settings of README.md (``python -m tests.readme_tables``)."""

from __future__ import annotations

import ast
import re
from dataclasses import fields
from pathlib import Path

from etl.load.columns import LOGS
from etl.settings import Settings

ROOT = Path(__file__).resolve().parent.parent
README = ROOT / "README.md"


def columns_table() -> str:
    """Return the published columns of every log as Markdown."""
    parts = []
    for log in LOGS.values():
        parts += [f"**{log.name}** - {log.meaning}", "", "| column | kind | meaning |",
                  "| --- | --- | --- |"]
        for column in log.columns:
            star = "*" if column.is_required else ""
            unit = f", {column.unit}" if column.unit else ""
            words = f" ({', '.join(column.words)})" if column.words else ""
            parts.append(f"| {column.name}{star} | {column.kind}{unit} | {column.meaning}{words} |")
        parts.append("")
    return "\n".join(parts)


def reasons() -> dict[str, str]:
    """Return what stands below each setting in its module, empty where nothing does."""
    tree = ast.parse((ROOT / "etl" / "settings.py").read_text(encoding="utf-8"))
    (body,) = [node.body for node in tree.body
               if isinstance(node, ast.ClassDef) and node.name == Settings.__name__]
    found = {}
    for node, after in zip(body, [*body[1:], None], strict=True):
        if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            is_text = isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant)
            found[node.target.id] = " ".join(str(after.value.value).split()) if is_text else ""
    return found


def settings_table() -> str:
    """Return every setting with its default and its reason as Markdown."""
    said = reasons()
    rows = [f"| `{field.name}` | {_toml(field.default)} | {said[field.name].replace('|', '/')} |"
            for field in fields(Settings)]
    return "\n".join(["| key | default | meaning and reason |", "| --- | --- | --- |", *rows, ""])


def _toml(value: object) -> str:
    """Return a default as it would stand in ``settings.toml``."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, tuple):
        return "[]" if not value else repr(list(value))
    return '""' if value == "" else str(value)


TABLES = {"columns": columns_table, "settings": settings_table}


def with_tables(text: str) -> str:
    """Return the README with its tables made anew."""
    for name, made in TABLES.items():
        body = f"<!-- {name} -->\n{made()}<!-- /{name} -->"
        text = re.sub(f"<!-- {name} -->.*?<!-- /{name} -->", lambda _, body=body: body, text,
                      flags=re.S)
    return text


if __name__ == "__main__":
    README.write_text(with_tables(README.read_text(encoding="utf-8")), encoding="utf-8")
