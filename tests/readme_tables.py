"""Write the columns table of README.md from the catalogue (``python -m tests.readme_tables``)."""

from __future__ import annotations

import re
from pathlib import Path

from etl.load.columns import LOGS

README = Path(__file__).resolve().parent.parent / "README.md"
START, END = "<!-- columns -->", "<!-- /columns -->"


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


def with_columns(text: str) -> str:
    """Return the README with its columns table made anew."""
    body = f"{START}\n{columns_table()}{END}"
    return re.sub(f"{START}.*?{END}", lambda _: body, text, flags=re.S)


if __name__ == "__main__":
    README.write_text(with_columns(README.read_text(encoding="utf-8")), encoding="utf-8")
