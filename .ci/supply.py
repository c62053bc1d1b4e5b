"""What Braidlife is made of: licences, a bill of materials, known weaknesses.

``supply.py licences`` prints each runtime library with version and licence, and fails on one that
is not known to be permissive or LGPL; ``supply.py bill FILE`` writes the bill of materials
(CycloneDX 1.6, JSON); ``supply.py audit`` asks the public list of weaknesses, and says so where it
cannot.
"""

from __future__ import annotations

import importlib.metadata as metadata
import importlib.util
import json
import re
import subprocess
import sys
import tomllib
import uuid
from pathlib import Path
from typing import Any

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parent.parent
HASHED = ROOT / "dashboard" / "deploy" / "requirements-hashed.txt"
PERMISSIVE = ("MIT", "BSD", "Apache", "ISC", "PSF", "Python Software Foundation", "ZPL", "Zope",
              "MPL", "Mozilla", "HPND", "Zlib", "0BSD")
ONLY_UNMODIFIED = ("LGPL", "Lesser General Public")
STATED = {"mplcursors": "Zlib"}
"""Read in the licence file of the package, where its metadata are silent."""

LONGEST_S = 18.0
"""That asking for weaknesses may take: a check of a change waits for it."""


def declared() -> list[Requirement]:
    """Return the runtime libraries that the project names itself."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return [Requirement(text) for text in project["dependencies"]]


def optional() -> list[Requirement]:
    """Return the libraries that work on a cluster asks for beside them."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return [Requirement(text) for text in project["optional-dependencies"]["cluster"]]


def runtime(named: list[Requirement] | None = None) -> dict[str, list[str]]:
    """Return every library that runs with the pages and commands, and what each needs itself."""
    found: dict[str, list[str]] = {}
    waiting = [canonicalize_name(item.name) for item in named or declared()]
    while waiting:
        name = waiting.pop()
        if name in found:
            continue
        needs = [Requirement(text) for text in metadata.requires(name) or ()]
        found[name] = sorted({canonicalize_name(item.name) for item in needs
                              if item.marker is None or item.marker.evaluate({"extra": ""})})
        waiting += found[name]
    return dict(sorted(found.items()))


def licence(name: str) -> str:
    """Return the licence that a library states, in a few words; empty where it states none."""
    about = metadata.metadata(name)
    classified = [text.rpartition(":: ")[2] for text in about.get_all("Classifier") or ()
                  if text.startswith("License ::") and text.count("::") > 1]
    stated = [STATED.get(name), about.get("License-Expression"), *classified,
              (about.get("License") or "").strip().split("\n")[0][:60]]
    return next((text for text in stated if text), "")


def is_allowed(text: str) -> bool:
    """Tell whether a licence is permissive, or lets a library be used unmodified."""
    if any(word in text for word in ONLY_UNMODIFIED):
        return True
    return any(word in text for word in PERMISSIVE) and not re.search(r"(?<!L)GPL", text)


def bill() -> dict[str, Any]:
    """Return the bill of materials; equal for equal libraries."""
    ours = metadata.version("braidlife") if _is_installed() else _own_version()
    parts = runtime()
    refs = {name: f"pkg:pypi/{name}@{metadata.version(name)}" for name in parts}
    own = f"pkg:pypi/braidlife@{ours}"
    needs = {own: sorted(refs[canonicalize_name(item.name)] for item in declared()),
             **{refs[name]: sorted(refs[each] for each in of) for name, of in parts.items()}}
    return {
        "bomFormat": "CycloneDX", "specVersion": "1.6", "version": 1,
        "serialNumber": uuid.uuid5(uuid.NAMESPACE_URL, json.dumps(needs)).urn,
        "metadata": {"component": {"type": "application", "name": "braidlife", "version": ours,
                                   "bom-ref": own, "purl": own,
                                   "licenses": [{"license": {"id": "MIT"}}]}},
        "components": [{"type": "library", "name": name, "version": metadata.version(name),
                        "bom-ref": ref, "purl": ref,
                        "licenses": [{"license": {"name": licence(name)}}]}
                       for name, ref in refs.items()],
        "dependencies": [{"ref": ref, "dependsOn": of} for ref, of in needs.items()],
    }


def _is_installed() -> bool:
    return any(found.name == "braidlife" for found in metadata.distributions())


def _own_version() -> str:
    text = (ROOT / "etl" / "__init__.py").read_text(encoding="utf-8")
    return re.findall(r'__version__ = "(.+)"', text)[0]


def judged(report: dict[str, Any]) -> tuple[list[str], int, int]:
    """Return the weaknesses of a report, how many libraries were looked at, and how many not.

    A library that the list could not be asked about has not been found sound.
    """
    items = report["dependencies"]
    weak = [f"{item['name']} {item['version']}: {each['id']}" for item in items
            for each in item.get("vulns", ())]
    skipped = sum("skip_reason" in item for item in items)
    return weak, len(items) - skipped, skipped


def audit() -> int:
    """Ask the public list of weaknesses; skip in words where it cannot be asked."""
    call = [sys.executable, "-m", "pip_audit", "-r", str(HASHED), "--require-hashes",
            "--disable-pip", "-s", "pypi", "-f", "json", "--progress-spinner", "off",
            "--timeout", "5"]
    if importlib.util.find_spec("pip_audit") is None:
        print("audit: skipped, pip-audit is not installed (pip install '.[audit]')")
        return 0
    try:
        done = subprocess.run(call, capture_output=True, text=True, check=False,
                              timeout=LONGEST_S)
        weak, n_asked, n_skipped = judged(json.loads(done.stdout))
    except (subprocess.TimeoutExpired, ValueError, KeyError):
        print("audit: skipped, the list cannot be reached from here")
        return 0
    if not n_asked:
        print(f"audit: skipped, the list could not be asked about any of {n_skipped} libraries")
        return 0
    print(f"audit: {n_asked} libraries asked about, {n_skipped} could not be; {len(weak)} known "
          "weaknesses", *weak, sep="\n  ")
    return 1 if weak else 0


def main(args: list[str]) -> int:
    """Run one of the commands."""
    if args == ["licences"]:
        installed = {canonicalize_name(item.name) for item in metadata.distributions()}
        more = [item for item in optional() if canonicalize_name(item.name) in installed]
        stated = {name: licence(name) for name in runtime([*declared(), *more])}
        for name, text in stated.items():
            print(f"{name:<28}{metadata.version(name):<18}{text or 'unknown'}"
                  f"{'' if is_allowed(text) else '   NOT KNOWN TO BE ALLOWED'}")
        return 0 if all(map(is_allowed, stated.values())) else 1
    if args[:1] == ["bill"] and len(args) == 2:
        Path(args[1]).write_text(json.dumps(bill(), indent=1) + "\n", encoding="utf-8")
        print(f"bill: {len(bill()['components'])} libraries")
        return 0
    if args == ["audit"]:
        return audit()
    print(__doc__)
    return 2


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
