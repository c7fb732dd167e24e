"""What README.md says of rules, columns and commands is what the code says."""

from tests.readme import README, splice


def test_generated_parts_are_current() -> None:
    text = README.read_text(encoding="utf-8")
    assert splice(text) == text, "run: python -m tests.readme"
