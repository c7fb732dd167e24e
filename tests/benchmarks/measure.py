"""Runs one command in a fresh process and reads its wall time, CPU time and peak memory."""

from __future__ import annotations

import os
import subprocess
import time
from dataclasses import dataclass


@dataclass(frozen=True)
class Cost:
    """What a process used: seconds of wall and CPU time, GiB at its peak."""

    wall: float
    cpu: float
    peak_gib: float


def measured(command: list[str]) -> Cost:
    """Run `command` to its end; a failure shows its last words."""
    started = time.monotonic()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    assert process.stderr is not None
    words = process.stderr.read()
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise SystemExit(f"{' '.join(command)}\n{words.decode(errors='replace')[-2000:]}")
    return Cost(time.monotonic() - started, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 2**20)
