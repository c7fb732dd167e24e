"""The policy: every limit with its unit and source, and a landlord's own values laid over it.

Imports neither pandas nor pandera, so that `valve-audit rules` starts fast.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from audit.errors import CannotUse

DEFAULT = Path(__file__).with_name("policy.toml")
ORDERED = (  # the first of each pair may not lie above the second
    ("fit.insertion_22_low", "fit.insertion_22_high"),
    ("fit.insertion_28_low", "fit.insertion_28_high"),
    ("repeats.short_window", "repeats.long_window"),
)


@dataclass(frozen=True, slots=True)
class Limit:
    """One number of the policy. `low` and `high` bound what a landlord may set; `source` says where it comes from."""

    name: str
    value: Any
    unit: str
    source: str
    meaning: str
    low: float | None = None
    high: float | None = None

    @property
    def number(self) -> float:
        """The value as a number, in `unit`."""
        return float(self.value)


class Policy(Mapping[str, Limit]):
    """All limits by dotted name: `policy["age.head_service_life"].number`, or short `policy.number(name)`."""

    def __init__(self, limits: Mapping[str, Limit]) -> None:
        self._limits = dict(limits)

    def __getitem__(self, name: str) -> Limit:
        return self._limits[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._limits)

    def __len__(self) -> int:
        return len(self._limits)

    def number(self, name: str) -> float:
        """Return the value of one limit, in its own unit."""
        return self._limits[name].number

    @property
    def sha256(self) -> str:
        """Digest of the values in force: equal digests mean equal limits."""
        values = {name: str(limit.value) for name, limit in sorted(self._limits.items())}
        return hashlib.sha256(json.dumps(values).encode()).hexdigest()


def load_policy(own: Path | None = None) -> Policy:
    """Read the default policy and lay the landlord's own file over it.

    Raises:
        CannotUse: the file cannot be read, names an unknown limit, or sets one out of range.
    """
    limits = {
        f"{group}.{key}": Limit(name=f"{group}.{key}", **entry)
        for group, entries in tomllib.loads(DEFAULT.read_text(encoding="utf-8")).items()
        for key, entry in entries.items()
    }
    if own is None:
        return Policy(limits)
    for name, value in _own_values(own):
        if name not in limits:
            raise CannotUse(
                f"{own.name}: there is no limit named {name!r}; `valve-audit rules --limits` lists them all."
            )
        limits[name] = _overridden(limits[name], value, own.name)
    for low, high in ORDERED:
        if limits[low].number > limits[high].number:
            raise CannotUse(f"{own.name}: {low} = {limits[low].value:g} lies above {high} = {limits[high].value:g}.")
    return Policy(limits)


def _own_values(path: Path) -> Iterator[tuple[str, Any]]:
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise CannotUse(f"{path}: there is no such policy file.") from None
    except (OSError, UnicodeDecodeError) as error:
        raise CannotUse(f"{path}: the policy file cannot be read ({error.__class__.__name__}).") from None
    except tomllib.TOMLDecodeError as error:
        raise CannotUse(f"{path.name}: the policy file is not valid TOML: {error}.") from None
    for group, entries in content.items():
        if not isinstance(entries, dict):
            raise CannotUse(f"{path.name}: {group!r} stands outside a group; write it under a heading such as [age].")
        for key, entry in entries.items():
            yield f"{group}.{key}", entry["value"] if isinstance(entry, dict) and "value" in entry else entry


def _overridden(limit: Limit, value: Any, file: str) -> Limit:
    if isinstance(limit.value, list):
        days = value if isinstance(value, list) else [value]
        if not all(isinstance(day, dt.date) for day in days):
            raise CannotUse(f"{file}: {limit.name} must be a list of dates such as [2026-12-24].")
        return replace(limit, value=days, source=f"{file}")
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise CannotUse(f"{file}: {limit.name} must be a number in {limit.unit}, not {value!r}.")
    if (limit.low is not None and value < limit.low) or (limit.high is not None and value > limit.high):
        allowed = f"between {limit.low:g} and {limit.high:g} {limit.unit}"
        raise CannotUse(f"{file}: {limit.name} = {value:g} is out of range; it must lie {allowed}.")
    return replace(limit, value=value, source=f"{file} (default {limit.value:g}, {limit.source})")
