"""Which files an input means, and what can be said against them before they are opened."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from audit.errors import CannotUse

KINDS = (".xlsx", ".xlsm", ".ods", ".csv", ".tsv", ".txt", ".parquet")
READ = ".xlsx, .ods, .csv or .parquet"
MENDS = {
    ".xls": "open it in a spreadsheet program and save it as .xlsx",
    ".xlsb": "open it in a spreadsheet program and save it as .xlsx",
    ".numbers": "export it as .xlsx",
    ".pdf": "ask for the spreadsheet that it was printed from",
    ".zip": "unpack it and give the files inside",
    ".gz": "unpack it and give the file inside",
    ".json": "export the table as .csv",
    ".docx": "copy the table into a spreadsheet and save it as .xlsx",
}
OWN = {"columns.toml", "run.json"}
LEFT_BY_PROGRAMS = ("~$", ".~lock", "._", ".")


@dataclass(frozen=True)
class Source:
    """One file to read. `named` is true where the user named the file itself rather than a folder that holds it."""

    path: Path
    name: str
    named: bool

    @property
    def kind(self) -> str:
        """The file's extension in small letters, with its dot."""
        return self.path.suffix.lower()

    def sha256(self) -> str:
        """Digest of the file's bytes."""
        with self.path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()


def sources(paths: Sequence[Path]) -> tuple[list[Source], list[str]]:
    """List the files that the inputs mean, in a fixed order, and say which were passed over.

    Args:
        paths: Files, or folders whose files (not those of folders inside) are read.

    Raises:
        CannotUse: an input is missing, empty, of a kind that is not read, or a folder without a usable file.
    """
    if not paths:
        raise CannotUse(f"No input was given; name a file ({READ}) or a folder that holds some.")
    found: list[Path] = []
    said: list[str] = []
    for path in paths:
        if not path.exists():
            raise CannotUse(f"{path}: there is no such file or folder; check the name.")
        if path.is_dir():
            inside, passed = _in_folder(path)
            found += inside
            said += passed
        else:
            _refuse_named(path)
            found.append(path)
    found = list(dict.fromkeys(found))
    for path in found:
        if path.stat().st_size == 0:
            raise CannotUse(f"{path.name}: the file is empty; save or export it again.")
    given = {path for path in paths if not path.is_dir()}
    return [Source(p, n, p in given) for p, n in zip(found, _names(found), strict=True)], said


def _refuse_named(path: Path) -> None:
    if not path.is_file():
        raise CannotUse(f"{path.name}: is neither a file nor a folder; give a {READ} file.")
    if path.name.startswith("~$"):
        raise CannotUse(f"{path.name}: is the mark of a workbook that is open elsewhere; give the workbook itself.")
    if path.suffix.lower() not in KINDS:
        mend = MENDS.get(path.suffix.lower(), f"save the table as {READ}")
        raise CannotUse(f"{path.name}: files of the kind '{path.suffix or 'no extension'}' are not read; {mend}.")


def _in_folder(folder: Path) -> tuple[list[Path], list[str]]:
    try:
        inside = sorted((p for p in folder.iterdir() if p.is_file()), key=lambda p: p.name)
    except OSError as error:
        raise CannotUse(f"{folder}: the folder cannot be opened ({error.strerror}); check who may read it.") from None
    hidden = [p.name for p in inside if p.name.startswith(LEFT_BY_PROGRAMS)]
    other = [p.name for p in inside if p.name not in hidden and p.suffix.lower() not in KINDS and p.name not in OWN]
    usable = [p for p in inside if p.name not in hidden and p.suffix.lower() in KINDS]
    if not usable:
        raise CannotUse(f"{folder.name or folder}: the folder holds no {READ} file; give the folder with the books.")
    said = [f"{name} was passed over: it is hidden, or the mark of an open file." for name in hidden]
    said += [f"{name} was passed over: only {READ} files are read." for name in other]
    empty = [p for p in usable if p.stat().st_size == 0 and len(usable) > 1]
    said += [f"{p.name} was passed over: it is empty." for p in empty]
    return [p for p in usable if p not in empty], said


def _names(paths: Sequence[Path]) -> list[str]:
    """Short names; where two files share one, enough of the folders above to tell them apart."""
    depth = 1
    names = [p.name for p in paths]
    while len(set(names)) < len(names) and depth < 20:
        depth += 1
        names = [p.name if names.count(p.name) == 1 else "/".join(p.resolve().parts[-depth:]) for p in paths]
    return names
