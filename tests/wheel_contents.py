"""Build the wheel and check that every packaged file is in it (run by .ci/run)."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PACKED = {"sql": "etl/_sql", "demo_fleet": "etl/_demo_fleet", "dashboard": "dashboard",
          "etl": "etl"}


def main() -> int:
    tracked = subprocess.run(
        ["git", "ls-files", *PACKED], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split("\n")
    wanted = {
        PACKED[name.split("/", 1)[0]] + "/" + name.split("/", 1)[1] for name in tracked if name
    }
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run(
            [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", folder],
            cwd=ROOT, check=True, stdout=subprocess.DEVNULL,
        )
        wheel = next(Path(folder).glob("*.whl"))
        with zipfile.ZipFile(wheel) as archive:
            missing = sorted(wanted - set(archive.namelist()))
    print(f"wheel: {len(wanted) - len(missing)} of {len(wanted)} tracked files packed")
    if missing:
        print("missing:", *missing, sep="\n  ")
    return 1 if missing else 0


if __name__ == "__main__":
    sys.exit(main())
