"""The layers, the light start, and the tidy top level are promises; these tests hold them."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGES = ("audit", "schemas", "reports")
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE", "tests", "sample_data", *PACKAGES}
# what a package may import of ours; audit.writing is the one place that may also reach the reports
ALLOWED = {"schemas": {"schemas"}, "reports": {"reports", "schemas"}, "audit": {"audit", "schemas"}}
LIGHT_COMMANDS = (["--help"], ["rules"], ["rules", "--limits"], ["run", "--help"], ["--version"])
LONGEST_MODULE = 400  # lines


def modules() -> Iterator[Path]:
    for package in PACKAGES:
        yield from sorted((ROOT / package).rglob("*.py"))


def imported(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module


@pytest.mark.parametrize("path", list(modules()), ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_point_one_way(path: Path) -> None:
    package = path.relative_to(ROOT).parts[0]
    allowed = ALLOWED[package] | ({"reports"} if path == ROOT / "audit" / "writing.py" else set())
    ours = {name.split(".")[0] for name in imported(path)} & {*PACKAGES, "tests"}
    assert ours <= allowed


@pytest.mark.parametrize("path", list(modules()), ids=lambda p: str(p.relative_to(ROOT)))
def test_only_the_command_line_knows_the_pipeline(path: Path) -> None:
    if path.relative_to(ROOT).parts[0] == "audit" and path.name not in ("cli.py", "pipeline.py", "writing.py"):
        assert not {"audit.pipeline", "audit.writing"} & set(imported(path))


@pytest.mark.parametrize("path", list(modules()), ids=lambda p: str(p.relative_to(ROOT)))
def test_a_module_holds_one_subject(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST_MODULE


@pytest.mark.parametrize("words", LIGHT_COMMANDS, ids=" ".join)
def test_light_commands_never_import_pandas(words: list[str]) -> None:
    code = (
        "import sys\n"
        "from audit.cli import app\n"
        f"app({words!r}, standalone_mode=False)\n"
        "assert not {'pandas', 'pandera', 'openpyxl', 'pyarrow'} & set(sys.modules), sorted(sys.modules)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT)
    assert done.returncode == 0, done.stderr
    assert done.stdout


def test_top_level_shows_the_architecture() -> None:
    done = subprocess.run(["git", "ls-files"], capture_output=True, text=True, cwd=ROOT)
    if done.returncode:
        pytest.skip("not a git checkout")
    seen = {name.split("/")[0] for name in done.stdout.split("\n") if name}
    assert {name for name in seen if not name.startswith(".")} <= TOP_LEVEL


def test_the_engine_has_no_clock_and_prints_nothing() -> None:
    banned = {"print", "input"}
    for path in modules():
        if path.name in ("cli.py", "progress.py", "__main__.py"):
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        calls = {ast.unparse(node.func) for node in ast.walk(tree) if isinstance(node, ast.Call)}
        clocks = {name for name in calls if name.endswith((".now", ".today", ".utcnow", "time.time"))}
        assert not (calls & banned | clocks), path
