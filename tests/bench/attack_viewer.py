"""Attack the pages as somebody who may only read, and who knows the token of those who may write.

``python -m tests.bench.attack_viewer STORE`` works on a copy of the store. A finding is what it is
in `tests.bench.attack`, and every file of the store that is another one afterwards.
"""

from __future__ import annotations

import argparse
import shutil
import tempfile
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

import argon2

from dashboard.accounts.marks import FORM
from etl import audit
from etl.account import book, keep, passwords
from etl.load.kept import digest
from tests.bench.attack import Attack

PASSWORD = "copper kettle on the roof"
A_ROUND = 400
"""Requests between two times of signing in."""
OURS = (book.NAME, audit.FOLDER, "lock")
"""What signing in itself writes."""


@dataclass
class AsViewer(Attack):
    """An attack by somebody who has signed in as a viewer."""

    def __post_init__(self) -> None:
        """Make a keeper and a viewer, and sign in as the viewer."""
        with mock.patch.object(passwords, "HASHER", argon2.PasswordHasher(1, 8, 1)):
            keep.add(self.store, "Ann", "keeper", PASSWORD)
            keep.add(self.store, "Vera", "viewer", PASSWORD)
            super().__post_init__()
            self.enter()

    def enter(self) -> None:
        """Sign in; an attack may have signed out."""
        self.client.get("/invitation/none")
        form = self.client.get_cookie(FORM)
        answer = self.client.post(
            "/sign-in", headers={"Origin": "http://localhost"}, data={
                "name": "Vera", "password": PASSWORD, "token": form.value if form else ""})
        if answer.status_code != 303 and self.client.get("/").status_code != 200:
            self.findings.append(f"the viewer was not let in: {answer.status_code}")

    def held(self) -> dict[str, str]:
        """Return every file of the store with the hash of its content."""
        return {path.relative_to(self.store).as_posix(): digest(path)
                for path in sorted(self.store.rglob("*"))
                if path.is_file() and path.relative_to(self.store).parts[0] not in OURS}

    def run(self, number: int) -> None:
        """Attack in rounds, each signed in, then look for anything that was changed."""
        before, people = self.held(), keep.accounts(self.store)
        with mock.patch.object(passwords, "HASHER", argon2.PasswordHasher(1, 8, 1)):
            for done in range(0, number, A_ROUND):
                self.enter()
                super().run(min(A_ROUND, number - done))
        self.findings += [f"a viewer changed {name}" for name in sorted(
            {name for name, _ in before.items() ^ self.held().items()})]
        if [account for account, _ in people] != [a for a, _ in keep.accounts(self.store)]:
            self.findings.append("a viewer changed the accounts")


def main() -> None:
    """Print what was tried and found."""
    parser = argparse.ArgumentParser(description="Attack a copy of a store as a viewer.")
    parser.add_argument("store", type=Path)
    parser.add_argument("--number", type=int, default=8_000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="braidlife-") as folder:
        attack = AsViewer(Path(shutil.copytree(options.store, Path(folder) / "store")),
                          options.seed)
        attack.run(options.number)
        print(f"as a viewer, seed {options.seed}: {dict(attack.tried)}; "
              f"{len(attack.findings)} findings")
        print(dict(sorted(attack.answered.items())))
        for finding, count in Counter(attack.findings).most_common(10):
            print(f"{count:>6} x {finding[:300]!r}")


if __name__ == "__main__":
    main()
