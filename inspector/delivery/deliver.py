"""Plan -> a corrected folder that is proven: write, read back, compare, check again."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from inspector.checks.base.finding import Finding
from inspector.checks.base.inspect import FolderInspection
from inspector.delivery.plan import Plan
from inspector.sequence.scan import Cancel, never

Progress = Callable[[str, int, int], None]
"""Called with what is being done ("write", "read back", "check"), how much of it is done, and of how much."""


@dataclass(frozen=True)
class Proof:
    """files: written and read back; blocks: untouched blocks compared byte for byte, all equal; sources: files of the
    source whose digests are as before.

    gone, left: findings (errors and warnings) aimed at, by sequence key; new: those that were not there before.
    second: steps that a second plan would still have.
    """

    files: int
    blocks: int
    sources: int
    gone: tuple[tuple[str, Finding], ...]
    left: tuple[tuple[str, Finding], ...]
    new: tuple[tuple[str, Finding], ...]
    second: int

    @property
    def clean(self) -> bool:
        """Whether everything aimed at is gone and nothing new came."""
        return not self.left and not self.new and not self.second


@dataclass(frozen=True)
class Delivery:
    """receipt: what stands in the receipt file, JSON-able."""

    out: Path
    before: FolderInspection
    after: FolderInspection
    receipt: Mapping[str, object]
    proof: Proof


def deliver(
    inspection: FolderInspection,
    plan: Plan,
    out: Path,
    progress: Progress | None = None,
    cancelled: Cancel = never,
) -> Delivery:
    """Write the corrected folder, prove it, and only then give it its name.

    Raises Refusal where `out` exists, or lies inside, over or around a folder that is read; MeshqcError if writing or
    proving fails; Cancelled. After each of these nothing stands under the name `out`; work that was begun is kept in
    a hidden folder beside it and resumed by the next delivery of the same plan.
    """
    raise NotImplementedError
