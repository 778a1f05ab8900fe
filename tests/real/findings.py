"""Print the findings of real sequences, one per line, so that a person can judge each of them.

Run by hand: `MESHQC_REAL=FOLDER python -m tests.real.findings [PATH ...]`. PATHs are the folders to inspect; by
default, all folders in FOLDER are inspected. No file is written.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from fractions import Fraction
from pathlib import Path

from inspector import inspect
from tests.helpers.real import VARIABLE, real_folder

_FRAMES_SHOWN = 8


def spans(numbers: Sequence[Fraction]) -> str:
    """Return the frame numbers as ranges. After the first few ranges, only state how many more there are."""
    runs: list[list[Fraction]] = []
    for number in numbers:
        if runs and number - runs[-1][-1] == 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    words = [f"{float(run[0]):g}" + (f"-{float(run[-1]):g}" if len(run) > 1 else "") for run in runs]
    return ", ".join(words[:_FRAMES_SHOWN]) + (
        f" and {len(words) - _FRAMES_SHOWN} more" if len(words) > _FRAMES_SHOWN else ""
    )


def lines(folder: Path) -> Iterator[str]:
    """Yield lines about the findings, the sequences without findings, and the files that are not part of a sequence."""
    result = inspect(folder)
    for inspection in result.inspections:
        name = f"{inspection.sequence.relative.text}/{inspection.sequence.pattern.text}".removeprefix("./")
        for finding in sorted(inspection.findings, key=lambda one: (-one.severity, one.check)):
            first = finding.where[0] if finding.where else None
            place = f" | {first.file.text}:{first.line or ''} {first.element or ''}".rstrip(" :") if first else ""
            count = f"{len(finding.frames)}: {spans(finding.frames)}"
            head = f"{folder.name} | {finding.severity.word} | {finding.check} | {name}"
            yield f"{head} | {count} | {finding.message}{place}"
        if not inspection.findings:
            yield f"{folder.name} | clean | - | {name} | {len(inspection.series.facts)} frames |"
    for notice in result.not_sequences:
        yield f"{folder.name} | no sequence | - | {notice.pattern.text} | {notice.count} files | {notice.reason}"
    for path, reason in result.discovery.left_out[:5]:
        yield f"{folder.name} | left out | - | {path} | | {reason}"


def main() -> None:
    root = real_folder()
    folders = [Path(name) for name in sys.argv[1:]]
    if not folders and root is None:
        raise SystemExit(f"{VARIABLE} doesn't name a folder with real sequences, and no folder was given")
    for folder in folders or sorted(path for path in (root or Path()).iterdir() if path.is_dir()):
        for line in lines(folder):
            print(line, flush=True)


if __name__ == "__main__":
    main()
