"""Real, messy files: gives every table file of given folders to `check`, one process each, and prints what came of it.

Made for the test files that general-purpose table libraries ship in their source packages. Fetch them one at a time,
`pip download --no-deps --no-binary NAME NAME`, unpack them and name the folders:

    python -m tests.studies.library_files FOLDER...

A file counts as read (status 0) or refused in words (status 2); anything else, a traceback, more than ten seconds or
more than 1 GiB is printed, and the study ends with status 1.
"""

from __future__ import annotations

import collections
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

KINDS = (".csv", ".tsv", ".txt", ".xls", ".xlsx", ".xlsm", ".xlsb", ".ods", ".parquet")
SECONDS = 10.0
GIB = 1.0


@dataclass(frozen=True)
class Came:
    """What came of one file."""

    path: Path
    status: int
    words: str
    seconds: float
    gib: float

    @property
    def harmed(self) -> bool:
        return self.status not in (0, 2) or "Traceback" in self.words or self.seconds > SECONDS or self.gib > GIB


def checked(path: Path, folder: str) -> Came:
    """One file through `check`, in a process of its own that writes into `folder`."""
    started = time.monotonic()
    root = str(Path(__file__).parents[2])
    process = subprocess.Popen(
        [sys.executable, "-m", "audit", "check", str(path.resolve())],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        errors="replace",
        cwd=folder,
        env=os.environ | {"PYTHONPATH": root},
    )
    assert process.stderr is not None
    words = process.stderr.read()
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    return Came(path, process.returncode, words, time.monotonic() - started, usage.ru_maxrss / 2**20)


def main(folders: list[str]) -> int:
    """Check every table file below `folders`; print counts by kind and status, the slowest, the largest, the harmed."""
    files = sorted(path for folder in folders for path in Path(folder).rglob("*") if path.suffix.lower() in KINDS)
    with tempfile.TemporaryDirectory() as folder:
        came = [checked(path, folder) for path in files]
    counted = collections.Counter((one.path.suffix.lower(), one.status) for one in came)
    for (kind, status), count in sorted(counted.items()):
        print(f"{kind:9} status {status}: {count}")
    print(f"slowest {max(one.seconds for one in came):.1f} s, largest {max(one.gib for one in came):.2f} GiB")
    harmed = [one for one in came if one.harmed]
    for one in harmed:
        print(f"{one.path}: status {one.status}, {one.seconds:.1f} s, {one.gib:.2f} GiB: {one.words[-400:]}")
    print(f"{len(came)} files, {len(harmed)} harmed")
    return 1 if harmed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
