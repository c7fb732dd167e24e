"""Writes a set of files into a folder: all of them, or none and the earlier ones untouched."""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

OPEN_ELSEWHERE = "it is open in a spreadsheet program"


@contextmanager
def replacing(out: Path) -> Iterator[Path]:
    """Give an empty folder to write into; on leaving, move every file in it to the same place under `out`.

    The empty folder lies inside `out`, so that moving never crosses a file system. Where anything fails, each earlier
    file is back in its place, and a folder that had to be made is gone again.

    Raises:
        OSError: `out` or a file in it cannot be written; `filename` and `strerror` say which and why.
    """
    made = _make(out)
    try:
        fresh = Path(tempfile.mkdtemp(prefix=".unfinished-", dir=out))
        try:
            yield fresh
            _move_all(fresh, out)
        finally:
            shutil.rmtree(fresh, ignore_errors=True)
    except BaseException:
        for folder in made:
            _remove_if_empty(folder)
        raise


def _make(folder: Path) -> list[Path]:
    """Make a folder and its missing parents; give back those made, innermost first."""
    for place in (folder, *folder.parents):
        if place.exists() and not place.is_dir():
            raise NotADirectoryError(errno.ENOTDIR, "it is a file, not a folder", str(place))
    missing = [place for place in (folder, *folder.parents) if not place.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    return missing


def _move_all(fresh: Path, out: Path) -> None:
    names = sorted(path.relative_to(fresh) for path in fresh.rglob("*") if path.is_file())
    for name in names:
        _refuse_if_in_use(out / name)
    old = fresh / ".old"
    made = [folder for parent in sorted({out / name.parent for name in names}) for folder in _make(parent)]
    kept: list[Path] = []
    placed: list[Path] = []
    try:
        for name in names:
            if (out / name).exists():
                _move(out / name, old / name, named=out / name)
                kept.append(name)
        for name in names:
            _move(fresh / name, out / name, named=out / name)
            placed.append(name)
    except BaseException:
        for name in placed:
            (out / name).unlink()
        for name in kept:
            _move(old / name, out / name, named=out / name)
        for folder in made:
            _remove_if_empty(folder)
        raise


def _move(source: Path, target: Path, *, named: Path) -> None:
    """Move a file; an error names the user's file, not the one in the hidden folder."""
    target.parent.mkdir(parents=True, exist_ok=True)
    try:
        os.replace(source, target)
    except OSError as error:
        raise OSError(error.errno, error.strerror, str(named)) from None


def _refuse_if_in_use(path: Path) -> None:
    """Refuse to replace a file that a spreadsheet program holds open, or that is not a file we may write."""
    if path.is_dir():
        raise IsADirectoryError(errno.EISDIR, "a folder of that name is in the way", str(path))
    locks = (path.with_name(f".~lock.{path.name}#"), path.with_name(f"~${path.name}"))
    for lock in locks:
        if lock.exists():
            raise PermissionError(errno.EACCES, f"{OPEN_ELSEWHERE}, says {lock.name}", str(path))
    if path.exists() and not os.access(path, os.W_OK):
        raise PermissionError(errno.EACCES, "it is marked read-only", str(path))


def _remove_if_empty(folder: Path) -> None:
    if folder.is_dir() and not any(folder.iterdir()):
        folder.rmdir()
