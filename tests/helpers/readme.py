"""README's table of all checks, from the registry. Written anew by: python -m tests.helpers.readme"""

from __future__ import annotations

from pathlib import Path

from inspector.checks.base.registry import all_checks

README = Path(__file__).parents[2] / "README.md"
_HEAD = "| check | worst | what it finds | fixes |\n| --- | --- | --- | --- |\n"


def table() -> str:
    """The table as it must stand at the end of README."""
    rows = [
        f"| `{check.id}` | {check.severity.word} | {check.title} | {', '.join(f'`{fix}`' for fix in check.fixes)} |"
        for check in all_checks()
    ]
    return _HEAD + "\n".join(rows) + "\n"


def rewrite() -> None:
    """Put the table at the end of README, in place of the one that is there."""
    text = README.read_text(encoding="utf-8").partition(_HEAD)[0]
    README.write_text(text + table(), encoding="utf-8")


if __name__ == "__main__":
    rewrite()
