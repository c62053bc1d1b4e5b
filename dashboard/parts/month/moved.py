"""What moved among the places to act on since an earlier edition, and why."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard import parts, words
from dashboard.queries.earlier import Earlier
from dashboard.queries.edition import Row

TEN = 10
TELLING = 0.10
"""A cost has moved when it differs by a tenth; less is the same to anyone who plans."""
SAME_PRICE = 0.02
MOST = 6


def moved_block(found: Earlier | None, currency: str) -> html.Section | None:
    """Return the places that moved, the largest change first; nothing without an earlier edition.

    Parameters
    ----------
    found : Earlier or None
    currency : str
    """
    if found is None:
        return None
    title = f"Moved since {words.date(found.as_of)}"
    rows = moves(found)
    if not rows:
        return parts.section(title, "", parts.empty("none of the leading places moved by a tenth"))
    caption = f"Among the leading places, by the edition of {words.date(found.as_of)} and by this."
    body = [_row(found.before.get(name), found.now.get(name), name, currency) for name in rows]
    more = f" {len(rows)} moved; the largest {MOST} are shown." if len(rows) > MOST else ""
    return parts.section(
        title, caption + more,
        parts.table(["Place", "Rank", "Expected cost", "Why"], body[:MOST], "moved"))


def moves(found: Earlier) -> list[str]:
    """Return the places whose cost moved or that crossed the border of the ten, largest first."""
    def size(name: str) -> float:
        return abs(_cost(found.now.get(name)) - _cost(found.before.get(name)))

    def is_telling(name: str) -> bool:
        before, now = found.before.get(name), found.now.get(name)
        if before is None or now is None:
            return True
        crossed = (before["rank"] <= TEN) != (now["rank"] <= TEN)
        return crossed or size(name) >= TELLING * _cost(before)

    names = sorted(set(found.before) | set(found.now))
    return sorted(filter(is_telling, names), key=lambda name: (-size(name), name))


def _cost(row: Row | None) -> float:
    return float(row["expected_cost"]) if row else 0.0


def cause(before: Row | None, now: Row | None, currency: str) -> str:
    """Return why a place moved, from what is recorded of it in both editions."""
    if before is None:
        return "not ranked before: new on record, or without a hose or a cost then"
    if now is None:
        return "not ranked now: no hose in service, or no cost known"
    said = []
    failures = now["observed_failures"] - before["observed_failures"]
    if failures > 0:
        said.append(words.count(failures, "failure") + " since")
    if failures < 0:
        said.append(f"{words.count(-failures, 'failure')} fewer on record: logs were corrected")
    was, is_now = before["cost_per_failure"], now["cost_per_failure"]
    if was and is_now and abs(is_now / was - 1.0) > SAME_PRICE:
        said.append(f"a failure costs {words.money(is_now, currency)} here, not "
                    f"{words.money(was, currency)}")
    if now["hose_id"] != before["hose_id"] or now["installed_on"] != before["installed_on"]:
        said.append(f"new hose since {words.date(now['installed_on'])}"
                    if now["installed_on"] else "its hose was taken out")
    return "; ".join(said) or "the same hose, older; and more evidence at like places"


def _row(before: Row | None, now: Row | None, name: str, currency: str) -> list[Any]:
    def told(key: str, say: Any) -> str:
        return " → ".join(say(row[key]) if row else "not ranked" for row in (before, now))

    span = None if now is None else html.Div(
        f"90 % range {words.spread(now['expected_cost_lower'], now['expected_cost_upper'])}",
        className="below")
    money = told("expected_cost", lambda value: words.money(value, currency))
    return [parts.place_link(name), told("rank", lambda value: f"{value:,}"),
            [html.Div(money), span], cause(before, now, currency)]
