"""Makes the parts of README.md that come from code: `python -m tests.readme` rewrites them in place."""

from __future__ import annotations

import re
from pathlib import Path

import typer.testing

from audit.catalogue import catalogue_markdown
from audit.cli import app
from audit.policy import load_policy
from reports.template import data_dictionary_markdown

README = Path(__file__).resolve().parent.parent / "README.md"
COMMANDS = ("run", "check", "backtest", "explain", "rules", "template", "sample")


def help_markdown() -> str:
    """The `--help` of every command, each in a block of its own."""
    runner = typer.testing.CliRunner(env={"COLUMNS": "100", "NO_COLOR": "1", "TERM": "dumb"})
    pages = []
    for command in COMMANDS:
        text = runner.invoke(app, [command, "--help"], prog_name="valve-audit").output.strip()
        lines = "\n".join(line.rstrip() for line in text.splitlines())
        pages.append(f"```text\n$ valve-audit {command} --help\n{lines}\n```")
    return "\n\n".join(pages)


def blocks() -> dict[str, str]:
    """Every generated block by the name in its markers."""
    return {
        "rules": catalogue_markdown(load_policy()),
        "dictionary": data_dictionary_markdown(),
        "help": help_markdown(),
    }


def splice(text: str) -> str:
    """Put every block between its markers."""
    for name, block in blocks().items():
        pattern = re.compile(rf"(<!-- {name}: begin -->\n).*?(<!-- {name}: end -->)", re.DOTALL)
        text, count = pattern.subn(lambda found, block=block: f"{found[1]}{block.strip()}\n{found[2]}", text)
        if count != 1:
            raise ValueError(f"README.md needs exactly one pair of markers named {name}")
    return text


if __name__ == "__main__":
    README.write_text(splice(README.read_text(encoding="utf-8")), encoding="utf-8")
