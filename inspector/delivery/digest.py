"""What stands for a plan and the state of its sources: work begun under another digest is not resumed."""

from __future__ import annotations

import json
from pathlib import Path

from inspector import __version__
from inspector.delivery.sources import sha256
from inspector.delivery.types import Plan, SequencePlan
from inspector.errors import MeshqcError
from inspector.names import Name


def plan_digest(plan: Plan) -> str:
    """Hexadecimal SHA-256 over steps, frames to write, and the size and time of every source file.

    Raises MeshqcError if a file that should go along is gone.
    """
    state = [__version__, *(_sequence_state(one) for one in plan.sequences)]
    return sha256(json.dumps(state, sort_keys=True, default=str).encode("ascii"))


def _sequence_state(plan: SequencePlan) -> dict[str, object]:
    return {
        "key": plan.key,
        "steps": [[step.fix, step.parameters, [str(frame) for frame in step.frames]] for step in plan.steps],
        "outputs": [[output.file.text, output.sources, output.weights, output.made] for output in plan.outputs],
        "frames": [
            [str(facts.file.path), facts.file.size, facts.file.mtime_ns] for facts in plan.inspection.series.facts
        ],
        "assets": [[place, [_state(path) for path in file.sources]] for place, file in plan.assets.files().items()],
    }


def _state(path: Path) -> list[object]:
    try:
        status = path.stat()
    except OSError as error:
        raise MeshqcError(f"{Name.from_path(path)}: {error.strerror}") from error
    return [str(path), status.st_size, status.st_mtime_ns]
