"""`run.json`: the record of a run. Equal inputs, policy and dates give equal bytes; no clock enters."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from schemas.results import Results


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


def write(results: Results, path: Path) -> None:
    """Write the record: sorted keys, two spaces, UTF-8, one line feed at the end."""
    text = json.dumps(record(results), indent=2, sort_keys=True, ensure_ascii=False, default=_plain, allow_nan=False)
    path.write_bytes((text + "\n").encode())


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
