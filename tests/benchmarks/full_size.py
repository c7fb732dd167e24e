"""The whole audit at full size: wall time, CPU, peak memory, and the ratio to reading the same files with pandas.

`python -m tests.benchmarks.full_size [HOMES ...]` (default 13000 130000) writes portfolios under a temporary folder,
audits each in one fresh process, and prints one line each.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from pathlib import Path

from tests.benchmarks.measure import measured

READ_ALONE = (
    "import sys, pathlib, pandas as pd\n"
    "for path in sorted(pathlib.Path(sys.argv[1]).glob('*.csv')):\n"
    "    pd.read_csv(path, low_memory=False)\n"
)


def main(sizes: list[int]) -> None:
    """Print a line for each size, and the growth in time between the sizes."""
    with tempfile.TemporaryDirectory() as folder:
        walls = [_one(Path(folder) / str(homes), homes) for homes in sizes]
    for (small, before), (large, after) in zip(
        zip(sizes, walls, strict=True), zip(sizes[1:], walls[1:], strict=True), strict=False
    ):
        print(f"{large / small:.0f} × the homes costs {after / before:.1f} × the CPU time")


def _one(folder: Path, homes: int) -> float:
    started = time.monotonic()
    measured([sys.executable, "-m", "audit", "sample", str(folder / "books"), "--homes", str(homes), "--form", "csv"])
    made = time.monotonic() - started
    rows = {path.stem: _lines(path) for path in sorted((folder / "books").glob("*.csv"))}
    command = [sys.executable, "-m", "audit", "run", str(folder / "books"), "--out", str(folder / "out")]
    audit = measured([*command, "--as-of", "2026-09-30"])
    alone = measured([sys.executable, "-c", READ_ALONE, str(folder / "books")])
    print(
        f"{homes:,} homes ({', '.join(f'{n:,} {name}' for name, n in rows.items())}; made in {made:.0f} s): "
        f"audit {audit.wall:.1f} s wall, {audit.cpu:.1f} s CPU, peak {audit.peak_gib:.2f} GiB; "
        f"pandas reads the same files in {alone.cpu:.1f} s CPU: ratio {audit.cpu / alone.cpu:.1f}"
        f" (load {os.getloadavg()[0]:.1f})",
        flush=True,
    )
    return audit.cpu


def _lines(path: Path) -> int:
    with path.open("rb") as file:
        return sum(chunk.count(b"\n") for chunk in iter(lambda: file.read(1 << 20), b"")) - 1


if __name__ == "__main__":
    main([int(size) for size in sys.argv[1:]] or [13_000, 130_000])
