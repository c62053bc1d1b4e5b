"""Attack the pages: every address, and the one that runs callbacks, with forged requests.

``python -m tests.bench.attack STORE`` works on a copy of the store, prints how many requests of
each kind were tried and what was found. A finding is an answer of status 500, a trace or a path in
an answer, a fault of ours that a forged value caused, a request that takes the processor longer
than it may (not the clock: the machine may be busy with other things), or a store that is not whole
afterwards. The same seed tries the same requests.
"""

from __future__ import annotations

import argparse
import copy
import json
import logging
import random
import re
import shutil
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from unittest import mock
from urllib.parse import quote

from dashboard import actions
from dashboard.app import create_app
from dashboard.questions import OF_COMPONENT, OF_PROPERTY, is_sound
from tests.bench.attack_words import HEADERS, METHODS, TEXTS, WORDS
from tests.bench.visitors import CALLBACK
from tests.dashboard.page_reader import _targets

LONGEST_S = 3.0
NEVER_SHOWN = ("Traceback (", "site-packages", "File \"/", "/tmp/", "/work", "duckdb.duckdb")
DEEP = (10, 100, 3_000, 100_000)


@dataclass
class Attack:
    """An application, chance, and what was found.

    Attributes
    ----------
    tried : Counter
        How many requests of each kind.
    findings : list of str
    answered : Counter
        How many answers of each kind of status, such as ``values 2xx``.
    """

    store: Path
    seed: int = 1
    tried: Counter[str] = field(default_factory=Counter)
    findings: list[str] = field(default_factory=list)
    answered: Counter[str] = field(default_factory=Counter)

    def __post_init__(self) -> None:
        """Make the application; nothing that it starts runs on."""
        self.chance = random.Random(self.seed)
        self.app = create_app(self.store)
        self.client = self.app.server.test_client()
        self.client.get("/")
        self.callbacks = {key: listed for key, listed in self.app.callback_map.items()
                          if "callback" in listed}
        self.told: list[str] = []
        handler = logging.Handler()
        handler.emit = lambda record: self.told.append(record.getMessage())  # type: ignore[method-assign]
        self.log = logging.getLogger("braidlife.pages")
        self.log.addHandler(handler)
        self.log.propagate = False
        with self.app.server.test_request_context("/"):
            self.token = self.app.server.config[actions.KEY].token

    def value(self, depth: int = 3) -> Any:
        """Return any value that JSON can say."""
        pick = self.chance.random()
        if depth and pick < 0.15:
            return [self.value(depth - 1) for _ in range(self.chance.randrange(4))]
        if depth and pick < 0.35:
            return {self.text(): self.value(depth - 1) for _ in range(self.chance.randrange(4))}
        if pick < 0.65:
            return self.text()
        return self.chance.choice([
            None, True, False, 0, -1, 1, 2**31, 2**63, -2**64, 10**40, 1.5, -0.0, 1e308,
            float("inf"), float("nan"), self.token, [[]], {"id": "x"}, {"type": "x", "index": 1},
            {"startRow": 0, "endRow": 10**9}, {"startRow": "x", "sortModel": [None]},
            {"startRow": 0, "endRow": 5, "sortModel": [{"colId": "rank; drop", "sort": []}],
             "filterModel": {"filter_text": {"filter": {}}}},
            {"props": {"children": "<b>"}, "type": "Div", "namespace": "dash_html_components"}])

    def text(self) -> str:
        """Return any text."""
        chosen = self.chance.choice(TEXTS)
        return chosen if self.chance.random() < 0.8 else "".join(
            chr(self.chance.choice([self.chance.randrange(128), self.chance.randrange(0x2FFF)]))
            for _ in range(self.chance.randrange(12)))

    def ask(self, kind: str, call: Callable[[], Any], shown: str) -> None:
        """Ask and judge the answer."""
        self.tried[kind] += 1
        self.told.clear()
        began = time.process_time()
        try:
            with call() as answer:
                status, words = answer.status_code, answer.get_data()
        except Exception as exc:
            self.findings.append(f"{kind}: {type(exc).__name__} came out, {shown[:300]}")
            return
        took = time.process_time() - began
        self.answered[f"{kind} {status // 100}xx"] += 1
        text = words[:200_000].decode("utf-8", "replace")
        for wrong in [*(f"shows {word}" for word in NEVER_SHOWN if word in text),
                      *([f"status {status}"] if status >= 500 and status != 503 else []),
                      *([f"took {took:.1f} s"] if took > LONGEST_S else []),
                      *{line for line in self.told if "failed" in line}]:
            self.findings.append(f"{kind}: {wrong}, {shown[:300]}")

    def address(self) -> None:
        """Ask for an address that exists, with hostile parts, method, query and headers."""
        rules = [rule.rule for rule in self.app.server.url_map.iter_rules()]
        path = re.sub("<[^>]*>", lambda _: quote(self.text().encode("utf-8", "replace"), safe="/%"),
                      self.chance.choice([*rules, *(page["path"] for page in self.pages())]))
        query = "&".join(
            f"{self.chance.choice(WORDS)}={quote(self.text().encode('utf-8', 'replace'))}"
            for _ in range(self.chance.randrange(4)))
        headers = {self.chance.choice(HEADERS): self.clean(self.text())
                   for _ in range(self.chance.randrange(3))}
        method = self.chance.choice(METHODS) if self.chance.random() < 0.4 else "GET"
        body = self.text().encode("utf-8", "replace") if self.chance.random() < 0.3 else None
        self.ask("address", lambda: self.client.open(
            path, method=method, query_string=query, headers=headers, data=body),
            f"{method} {path}?{query} {headers}")

    def pages(self) -> list[dict[str, Any]]:
        """Return the pages with what stands in their addresses left open."""
        import dash

        return [{"path": page["path_template"] or page["path"]}
                for page in dash.page_registry.values()]

    @staticmethod
    def clean(text: str) -> str:
        """Return a text that a header can hold: the web server refuses all others itself."""
        return re.sub(r"[\r\n\x00]", "", text).encode("latin-1", "replace").decode("latin-1")

    def question(self) -> dict[str, Any]:
        """Return what a browser would send to run a callback, with any values."""
        key = self.chance.choice(list(self.callbacks))
        listed = self.callbacks[key]
        self.stand_for: dict[str, list[Any]] = {}
        self.is_likely = self.chance.random() < 0.7
        body = {"output": key, "outputs": _targets(key), "changedPropIds": [],
                "inputs": [self.filled(item) for item in listed["inputs"]],
                "state": [self.filled(item) for item in listed["state"]]}
        plain = [item for item in body["inputs"] if isinstance(item, dict)]
        body["changedPropIds"] = [f"{item['id']}.{item['property']}" for item in plain
                                  if isinstance(item["id"], str)][:self.chance.randrange(3)]
        return body

    def filled(self, item: dict[str, Any]) -> Any:
        """Return an input as a browser names it, with a value; a pattern gives a list."""
        name, prop = item["id"], item["property"]
        if not name.startswith("{"):
            return {"id": name, "property": prop, "value": self.likely(name, prop)}
        if name not in self.stand_for or not self.is_likely:
            self.stand_for[name] = [
                {part: (self.text() if isinstance(of, list) else of)
                 for part, of in json.loads(name).items()}
                for _ in range(self.chance.randrange(4))]
        return [{"id": each, "property": prop, "value": each if prop == "id" and self.is_likely
                 else self.likely(name, prop)} for each in self.stand_for[name]]

    def likely(self, name: str, prop: str) -> Any:
        """Return a value; mostly one of the kind that comes as far as the callback."""
        if "token" in name and self.chance.random() < 0.7:
            return self.token
        kind = OF_COMPONENT.get(f"{name}.{prop}") or OF_PROPERTY.get(prop)
        for _ in range(30):
            found = self.value()
            try:
                is_let_in = is_sound(found) and (kind is None or kind(found))
            except UnicodeError:
                is_let_in = False
            if is_let_in or not self.is_likely:
                return found
        return None

    def values(self) -> None:
        """Run a callback with any values in the places of its own."""
        self.post("values", self.question())

    def forged(self) -> None:
        """Run a callback with ids, properties and parts that are not its own."""
        body: Any = self.question()
        for _ in range(1 + self.chance.randrange(3)):
            name = self.chance.choice([*body, "output", "inputs"])
            spot = body.get(name)
            spot = str(spot) if name == "output" else spot
            how = self.chance.random()
            if how < 0.2:
                body.pop(name, None)
            elif how < 0.45:
                body[name] = self.value()
            elif isinstance(spot, list) and spot:
                at = self.chance.randrange(len(spot))
                if isinstance(spot[at], dict) and how < 0.8:
                    spot[at] = {**spot[at], self.chance.choice(["id", "property"]): self.value(1)}
                else:
                    spot[at:at + 1] = self.chance.choice([[], [spot[at]] * 3, [self.value()]])
            elif isinstance(spot, dict):
                body[name] = {**spot, self.chance.choice(["id", "property"]): self.value(1)}
            elif name == "output":
                body[name] = self.chance.choice([
                    spot + "x", f"..{spot}...{spot}..", "..", "", spot.upper(), "_pages_content.x",
                    self.chance.choice(list(self.app.callback_map))])
        self.post("forged", body)

    def large(self) -> None:
        """Send bodies that are deep, wide or long, or no JSON at all."""
        deep = self.chance.choice(DEEP)
        body = copy.deepcopy(self.question())
        raw = json.dumps(body)
        opened = self.chance.choice(["[", '{"a":'])
        content = self.chance.choice([
            opened * deep, "[" * deep + "]" * deep, raw[:self.chance.randrange(len(raw))],
            raw.replace("null", "[" * deep + "]" * deep, 1),
            raw.replace("null", '{"a":' * deep + "1" + "}" * deep, 1),
            raw.replace("null", "9" * deep, 1), raw.replace("null", f'"{"x" * 10 * deep}"', 1),
            raw.replace("null", "[" + "0," * deep + "0]", 1),
            json.dumps({str(n): n for n in range(min(deep, 3000))}), raw + raw, "\x00" + raw,
            raw.encode("utf-16"), b"\xff\xfe" + raw.encode()])
        kind = self.chance.choice(["application/json"] * 4 + ["text/plain", "", "application/xml"])
        self.ask("large", lambda: self.client.post(
            CALLBACK, data=content, content_type=kind), f"{str(content)[:80]}… {len(content)}")

    def post(self, kind: str, body: Any) -> None:
        """Send a body to the address of callbacks, as one of our own pages would."""
        text = json.dumps(body)
        self.ask(kind, lambda: self.client.post(
            CALLBACK, data=text, content_type="application/json",
            headers={"Origin": "http://localhost"}), text)

    def run(self, number: int) -> None:
        """Try so many requests, a quarter of each kind; then look whether the store is whole."""
        before = {path for path in self.store.parent.rglob("*")}
        with mock.patch("etl.entry.job.start"):
            for _ in range(number // 4):
                for each in (self.address, self.values, self.forged, self.large):
                    each()
        with self.client.get("/ready") as answer:
            if answer.status_code != 200:
                self.findings.append(f"afterwards: not ready, {answer.get_data(as_text=True)}")
        from etl.load.columns import LOGS
        from etl.load.entered import read_journal

        self.tried["entries kept"] = sum(len(read_journal(self.store, log).entries) for log in LOGS)
        self.findings += [f"afterwards: torn line in {log}" for log in LOGS
                          if read_journal(self.store, log).torn]
        self.findings += [f"afterwards: {path.name} was made" for path in
                          set(self.store.parent.rglob("*")) - before
                          if not {self.store / "entries", self.store / "audit"} & {
                              path, *path.parents} and path.name != "lock"]


def main() -> None:
    """Print what was tried and found."""
    parser = argparse.ArgumentParser(description="Attack the pages of a copy of a store.")
    parser.add_argument("store", type=Path)
    parser.add_argument("--number", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="braidlife-") as folder:
        store = Path(shutil.copytree(options.store, Path(folder) / "store"))
        attack = Attack(store, options.seed)
        began = time.perf_counter()
        attack.run(options.number)
        print(f"seed {options.seed}: " + ", ".join(
            f"{count:,} {kind}" for kind, count in attack.tried.items())
            + f"; {time.perf_counter() - began:.0f} s; {len(attack.findings)} findings")
        print("answered: " + ", ".join(
            f"{kind} {count:,}" for kind, count in sorted(attack.answered.items())))
        kinds = Counter(re.sub(r"[,{].*", "", finding, flags=re.DOTALL)
                        for finding in attack.findings)
        for kind, count in kinds.most_common():
            example = next(each for each in attack.findings if each.startswith(kind))
            print(f"{count:>6} x {example[:400]!r}")


if __name__ == "__main__":
    main()
