"""Reading at full size against the bare readers: `python -m tests.benchmarks.reading`.

A million visits of CSV against pandas with pyarrow reading the same file as text; a hundred thousand valves of .xlsx
against bare python-calamine. Each in a fresh process, the libraries loaded before the clock starts; the least of three.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

TIMED = (
    "import sys, time; from pathlib import Path; path = Path(sys.argv[1])\n"
    "{load}\n"
    "wall, cpu = time.monotonic(), time.process_time()\n"
    "{work}\n"
    "print(time.monotonic() - wall, time.process_time() - cpu)"
)
OURS = ("from audit import intake", "intake.read([path], notes=False)")
WITH_NOTES = ("from audit import intake", "intake.read([path])")
PANDAS = ("import pandas as pd, pyarrow.csv", "pd.read_csv(path, engine='pyarrow', dtype=str)")
CALAMINE = (
    "from python_calamine import CalamineWorkbook",
    "CalamineWorkbook.from_path(path).get_sheet_by_index(0).to_python()",
)


def main() -> None:
    """Print both ratios."""
    with tempfile.TemporaryDirectory() as folder:
        books = Path(folder) / "books"
        sample = [sys.executable, "-m", "audit", "sample", str(books), "--form", "csv", "--homes", "130000"]
        subprocess.run(sample, check=True, capture_output=True)
        _compare("visits.csv", books / "visits.csv", OURS, PANDAS)
        _compare("visits.csv, notes read", books / "visits.csv", WITH_NOTES, PANDAS)
        _compare("100,000 valves of .xlsx", _workbook(books), OURS, CALAMINE)


def _workbook(books: Path) -> Path:
    import pandas as pd

    path = books / "valves.xlsx"
    pd.read_csv(books / "valves.csv", nrows=100_000, dtype=str).to_excel(path, index=False)
    return path


def _compare(name: str, path: Path, ours: tuple[str, str], bare: tuple[str, str]) -> None:
    pairs = [(_timed(path, *ours), _timed(path, *bare)) for _ in range(3)]  # turn about, for other work comes and goes
    (our_wall, our_cpu), (wall, cpu) = (min(p[side] for p in pairs) for side in (0, 1))
    print(
        f"{name}: {our_wall:.2f} s wall, {our_cpu:.2f} s CPU; bare {wall:.2f} s wall, {cpu:.2f} s CPU; "
        f"ratio {our_wall / wall:.2f} wall, {our_cpu / cpu:.2f} CPU",
        flush=True,
    )


def _timed(path: Path, load: str, work: str) -> tuple[float, float]:
    code = TIMED.format(load=load, work=work)
    done = subprocess.run([sys.executable, "-c", code, str(path)], check=True, capture_output=True, text=True)
    wall, cpu = map(float, done.stdout.split())
    return wall, cpu


if __name__ == "__main__":
    main()
