"""README's tables of all checks and fixes, from the registries. Written anew by: python -m tests.helpers.readme"""

from __future__ import annotations

from pathlib import Path

from inspector.checks.base.registry import all_checks
from inspector.fixes.base.registry import all_fixes

README = Path(__file__).parents[2] / "README.md"
_HEAD = "| check | worst | what it finds | fixes |\n| --- | --- | --- | --- |\n"
_FIXES_HEAD = """
## All fixes

In the order in which they are applied. A *lossless* fix adds and drops nothing; *one constant* sets one
declared number for all frames; *changes data* adds, estimates or drops data. `meshqc explain FIX` says more.

| fix | kind | what it does |
| --- | --- | --- |
"""


def table() -> str:
    """The tables as they must stand at the end of README."""
    checks = [
        f"| `{check.id}` | {check.severity.word} | {check.title} | {', '.join(f'`{fix}`' for fix in check.fixes)} |"
        for check in all_checks()
    ]
    fixes = [f"| `{fix.id}` | {fix.kind_text} | {fix.title} |" for fix in all_fixes()]
    return _HEAD + "\n".join(checks) + "\n" + _FIXES_HEAD + "\n".join(fixes) + "\n"


def rewrite() -> None:
    """Put the tables at the end of README, in place of those that are there."""
    text = README.read_text(encoding="utf-8").partition(_HEAD)[0]
    README.write_text(text + table(), encoding="utf-8")


if __name__ == "__main__":
    rewrite()
