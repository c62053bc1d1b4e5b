"""Ask the real application for a page without a browser, and read what it would show."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from dashboard.app import create_app

SHOWN = ("children", "title", "label", "aria-label", "placeholder")


class Reader:
    """The application of one store, answered over its test client."""

    def __init__(self, store: Path) -> None:
        self.app = create_app(store)
        self.client = self.app.server.test_client()
        self.client.get("/")  # callbacks are registered at the first request

    def layout(self, address: str) -> Any:
        """Return the page of an address as the browser receives it."""
        parts = urlsplit(address)
        search = "?" + parts.query if parts.query else ""
        answer = self.call(
            "_pages_content.children", {"_pages_location.pathname": parts.path,
                                        "_pages_location.search": search})
        return answer["_pages_content"]["children"]

    def text(self, address: str) -> str:
        """Return all words of a page, with the names read out for drawings."""
        return " ".join(words(self.layout(address)))

    def call(self, output: str, inputs: dict[str, Any], **states: Any) -> Any:
        """Run the callback that writes an output and return its response."""
        key = next(k for k in self.app.callback_map
                   if output == k or output + "." in k or output + "@" in k or k.startswith(output))
        listed = self.app.callback_map[key]
        body = {
            "output": key,
            "outputs": _targets(key),
            "inputs": [{"id": i["id"], "property": i["property"],
                        "value": inputs.get(f"{i['id']}.{i['property']}")}
                       for i in listed["inputs"]],
            "state": [{"id": s["id"], "property": s["property"],
                       "value": states.get(f"{s['id']}.{s['property']}".replace("-", "_")
                                           .replace(".", "__"))} for s in listed["state"]],
            "changedPropIds": list(inputs),
        }
        answer = self.client.post("/_dash-update-component", json=body)
        assert answer.status_code == 200, answer.get_data(as_text=True)[:300]
        return json.loads(answer.get_data(as_text=True))["response"]


def _targets(key: str) -> Any:
    if key.startswith(".."):
        return [_target(part) for part in key.strip(".").split("...")]
    return _target(key)


def _target(part: str) -> dict[str, str]:
    name, _, prop = part.rpartition(".")
    return {"id": name, "property": prop}


def words(node: Any) -> list[str]:
    """Return every text a component tree shows, in order."""
    if isinstance(node, str):
        return [node]
    if isinstance(node, (int, float)) and not isinstance(node, bool):
        return [str(node)]
    if isinstance(node, list):
        return _glued(node)
    if isinstance(node, dict) and "props" in node:
        props = node["props"]
        return [text for name in SHOWN if name in props for text in words(props[name])]
    return []


def _glued(nodes: list[Any]) -> list[str]:
    """Return the words of a list, in which a word with a meaning is part of its sentence."""
    out: list[str] = []
    is_glued = False
    for item in nodes:
        shown = term(item)
        if shown is not None or (is_glued and isinstance(item, str)):
            text = shown if shown is not None else item
            out = [*out[:-1], out[-1] + text] if out and (is_glued or out) else [text]
        else:
            out += words(item)
        is_glued = shown is not None
    return out


def term(node: Any) -> str | None:
    """Return the word whose meaning a component says, None for any other component."""
    if isinstance(node, dict) and node.get("props", {}).get("className") == "term-place":
        return str(node["props"]["children"][0]["props"]["children"])
    return None


def found(node: Any, wanted: str) -> list[dict[str, Any]]:
    """Return the properties of every component of a type, such as ``Link``, in order."""
    if isinstance(node, list):
        return [item for child in node for item in found(child, wanted)]
    if not isinstance(node, dict) or "props" not in node:
        return []
    own = [node["props"]] if node.get("type") == wanted else []
    return own + found(node["props"].get("children"), wanted)
