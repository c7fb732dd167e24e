"""Free text: kept as written, but for characters that cannot be seen and the guard against formulas."""

from __future__ import annotations

from typing import Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from audit.intake.values import arrow, cells, missing
from audit.intake.values.cells import Cells
from audit.intake.values.hidden import without_hidden
from audit.intake.values.parsed import Asked, Judged, Notes
from audit.intake.values.postcodes import postcode_ok, tidy_postcode
from audit.intake.values.wording import counted

# our own writer puts an apostrophe before text that a spreadsheet would take for a formula
GUARD: Final = r"^'([=+\-@\t\r\n])"


def judge_text(found: Cells, asked: Asked) -> Judged:
    """Text (str) of the distinct cells; in a postcode column, postcodes."""
    judged = Judged(found.text, Notes(len(found)), Notes(len(found)))
    bare = arrow.replace(pa.array(found.text, type=pa.large_string()), GUARD, r"\1")
    plain = arrow.column(bare)
    text = arrow.column(pc.utf8_trim_whitespace(without_hidden(bare)))
    changed = int(found.count[(text != plain).to_numpy(dtype=bool)].sum())
    if changed:
        judged.said.append(
            f"{asked.name}: blanks at the ends, no-break blanks, control characters or foreign line ends made plain "
            f"in {counted(changed, 'text')}."
        )
        text = text.mask(missing.says_nothing(arrow.texts(text)), "")  # what was left may say that nothing is known
    dated = int(found.count[found.of(cells.DATE)].sum())
    if dated:
        judged.said.append(f"{asked.name}: {counted(dated, 'real date')} kept as text.")
    if asked.name == "postcode":
        text = tidy_postcode(text)
        good = postcode_ok(text)
        judged.bad.add(
            ~good & (text != "").to_numpy(dtype=bool), "not in the form of a postcode", "write it as ZZ99 3AB"
        )
        letters = good & (text.str.replace(" ", "") != plain.str.upper().str.replace(r"\W", "", regex=True)).to_numpy(
            bool
        )
        judged.repaired.add(letters, "the letter O or I stood for a digit", "write 0 or 1 in the second half")
    judged.values = text.mask(judged.bad.mask | np.asarray(text == "", dtype=bool))
    return judged
