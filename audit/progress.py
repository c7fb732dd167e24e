"""Progress on stderr: silent for two seconds, then one line a step, or one moving line on a terminal."""

from __future__ import annotations

import sys
import threading
import time
from typing import TextIO

QUIET_SECONDS = 2.0
BAR = 20


class Progress:
    """Tells which step of how many is under way. Engine functions never see it; the pipeline calls `step`."""

    def __init__(self, steps: int, stream: TextIO | None = None, quiet: float = QUIET_SECONDS) -> None:
        self._steps = steps
        self._done = 0
        self._stream = stream if stream is not None else sys.stderr
        self._start = time.monotonic()
        self._quiet = quiet
        self._line = ""
        self._awake = threading.Timer(quiet, self._wake)  # a long first step is told while it runs, not after it
        self._awake.daemon = True
        self._awake.start()

    def step(self, what: str) -> None:
        """Say that the next step begins."""
        seconds = time.monotonic() - self._start
        filled = BAR * self._done // self._steps
        line = f"[{'#' * filled}{'.' * (BAR - filled)}] {self._done}/{self._steps} {what} ({seconds:.0f} s)"
        self._done += 1
        self._line = line
        if seconds >= self._quiet:
            self._write(line)

    def done(self) -> None:
        """Close the line, if one was begun."""
        self._awake.cancel()
        if time.monotonic() - self._start >= self._quiet:
            self._write(f"[{'#' * BAR}] done ({time.monotonic() - self._start:.0f} s)")
            if self._stream.isatty():
                self._stream.write("\n")

    def _wake(self) -> None:
        if self._line:
            self._write(self._line)

    def _write(self, line: str) -> None:
        self._stream.write(f"\r\033[K{line}" if self._stream.isatty() else f"{line}\n")
        self._stream.flush()
