"""Yes and no as people mark them: ticks, crosses, boxes, and a yes or no with a remark behind it."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from typing import Final

# ü and û are the tick and the cross of a symbol font, as they read without it; common practice, no source
MARKS: Final = {
    **dict.fromkeys(["✓", "✔", "✔️", "☑", "☑️", "✅", "√", "ü", "🗸", "👍", "[x]", "(x)"], "yes"),
    **dict.fromkeys(["✗", "✘", "❌", "❎", "☐", "û", "🗴", "👎", "[ ]", "[]"], "no"),
}
CROSSES: Final = frozenset(["x", "×", "xx", "☒", "╳"])
LEADING: Final = {"yes": "yes", "y": "yes", "yep": "yes", "no": "no", "n": "no"}
_AGAINST: Final = frozenset(["but", "not", "no", "except", "partly", "partially", "unless", "if", "yes", "y", "n"])


def marks(text: str) -> str | None:
    """Yes or no, where a cell holds a tick or a crossed-out mark."""
    seen = "".join(sign for sign in text if unicodedata.category(sign) != "Cf")  # Cf: signs without width
    return MARKS.get(seen.strip().lower())


def leading(words: Sequence[str]) -> str | None:
    """Yes or no where a text begins with it and nothing after it takes it back: "yes checked twice"."""
    if not words or not _AGAINST.isdisjoint(words[1:]):
        return None
    return LEADING.get(words[0])


def read_crosses(texts: Sequence[str], others: set[str]) -> list[tuple[str | None, str, str] | None]:
    """What a cross means, by what the column's other cells say: the answer that they never give; alone it means yes.

    Gives for each text that is a cross its (word, repair, bad), None for all others.
    """
    if others >= {"yes", "no"}:
        cross: tuple[str | None, str, str] = (None, "", "a cross beside yes and no may mean either")
    else:
        word = "no" if "yes" in others else "yes"
        why = "the other cells mark yes" if word == "no" else "the column marks only what is so"
        cross = (word, f"a cross is read as {word}: {why}", "")
    return [cross if text.lower() in CROSSES else None for text in texts]
