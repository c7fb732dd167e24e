"""`run.json`: the record of a run. Equal inputs, policy and dates give equal bytes; no clock enters."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from schemas.results import Results

NAME: Final = "run.json"
FILLED_IN: Final = "work-list.xlsx"  # the book that people fill in: its digest tells whether somebody did


def record(results: Results) -> dict[str, Any]:
    """Everything that identifies a run, as plain data."""
    counted = results.counts[["table", "rows_in", "used", "merged", "returned"]].to_dict("records")
    return {
        "version": results.version,
        "as_of": results.as_of.isoformat(),
        "quarter_start": results.quarter_start.isoformat(),
        "policy_sha256": results.policy_sha256,
        "inputs": results.inputs[["name", "sha256", "rows"]].to_dict("records"),
        "tables": {row.pop("table"): row for row in counted},
        "plan": {name: _plain(value) for name, value in results.plan.items()},
        "said": list(results.said),
    }


def write(results: Results, path: Path, written: Mapping[str, str]) -> None:
    """Write the record: sorted keys, two spaces, UTF-8, one line feed at the end. `written` are digests by file."""
    whole = record(results) | ({"written": dict(written)} if written else {})
    text = json.dumps(whole, indent=2, sort_keys=True, ensure_ascii=False, default=_plain, allow_nan=False)
    path.write_bytes((text + "\n").encode())


def digests(out: Path) -> dict[str, str]:
    """The digest of the work list that lies in a folder; none where there is none."""
    path = out / FILLED_IN
    return {FILLED_IN: hashlib.sha256(path.read_bytes()).hexdigest()} if path.is_file() else {}


def recorded(out: Path) -> dict[str, str]:
    """The digests that the record of an earlier run in this folder holds; none where it cannot be read."""
    try:
        found = json.loads((out / NAME).read_text(encoding="utf-8")).get("written", {})
    except (OSError, ValueError, AttributeError):
        return {}
    return {str(name): str(digest) for name, digest in found.items()} if isinstance(found, dict) else {}


def _plain(value: Any) -> Any:
    """Numbers of array libraries as Python's own, rounded to what matters; anything else as text."""
    if hasattr(value, "item"):
        value = value.item()
    if isinstance(value, float):
        return round(value, 6) if value == value and abs(value) != float("inf") else None
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, dict):
        return {str(name): _plain(item) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return value.isoformat() if hasattr(value, "isoformat") else str(value)
