"""Text at speed: regular expressions and casts over whole columns of text. All give numpy arrays."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from audit.intake.values.parsed import Bools, Floats, Ints


def texts(values: pd.Series[Any]) -> Any:
    """The column as one arrow text array; an empty text is no text."""
    array = pa.array(values, from_pandas=True, type=pa.large_string())
    if isinstance(array, pa.ChunkedArray):
        array = array.combine_chunks()
    empty = pc.equal(pc.binary_length(array), 0)
    return pc.if_else(empty, pa.scalar(None, pa.large_string()), array) if pc.any(empty).as_py() else array


def among(array: Any, listed: list[str]) -> Bools:
    """True where the text is one of those listed."""
    return true(pc.is_in(array, value_set=pa.array(listed, pa.large_string()), skip_nulls=True))


def printable(array: Any) -> Bools:
    """True where the text holds nothing but the visible characters of ASCII and blanks."""
    return true(pc.ascii_is_printable(array))


def matches(array: Any, pattern: str) -> Bools:
    """True where the text matches (RE2 syntax: linear time, no look-around); False where there is none."""
    return true(pc.match_substring_regex(array, pattern))


def pieces(array: Any, pattern: str) -> tuple[Bools, dict[str, Any]]:
    """Where the text matches, and the named pieces there (arrow text arrays of the matching cells only)."""
    there = matches(array, pattern)  # several times faster than taking the pieces of all
    found = pc.extract_regex(array.filter(pa.array(there)), pattern)
    names = [found.type.field(i).name for i in range(found.type.num_fields)]
    return there, {name: pc.struct_field(found, name) for name in names}


def replace(array: Any, pattern: str, by: str) -> Any:
    """The texts with every match of the pattern replaced."""
    return pc.replace_substring_regex(array, pattern, by) if matches(array, pattern).any() else array


def column(array: Any) -> pd.Series[str]:
    """Back to a pandas column of text."""
    return pd.Series(array, dtype="str")


def short(array: Any, most: int) -> Bools:
    """True where a text has at most so many bytes; no text has none."""
    return true(pc.less_equal(pc.fill_null(pc.binary_length(array), 0), most))


def ints(array: Any) -> Ints:
    """Digits as whole numbers; 0 where there are none."""
    digits = pc.if_else(pc.equal(pc.binary_length(array), 0), pa.scalar(None, array.type), array)
    return np.asarray(pc.fill_null(pc.cast(digits, pa.int64()), 0).to_numpy(zero_copy_only=False), dtype=np.int64)


def floats(array: Any) -> Floats:
    """Plain decimal numbers as floats; NaN where there is no text. Raises pa.ArrowInvalid on anything else."""
    numbers = pc.cast(array, pa.float64())
    return np.asarray(numbers.to_numpy(zero_copy_only=False), dtype=np.float64)


def slices(array: Any, start: int, stop: int | None = None) -> Any:
    """The characters from start to stop of each text (plain ASCII text only)."""
    return pc.utf8_slice_codeunits(array, start, stop)


def objects(array: Any) -> Any:
    """The texts as a numpy array of str, None where there is none."""
    return np.asarray(array.to_numpy(zero_copy_only=False), dtype=object)


def true(array: Any) -> Bools:
    """True where an arrow mask is; False where it is not, or is missing."""
    return np.asarray(pc.fill_null(array, False).to_numpy(zero_copy_only=False), dtype=bool)
