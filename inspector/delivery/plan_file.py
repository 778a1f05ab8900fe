"""A plan as the text of a file, so that the next export gets the same corrections."""

from __future__ import annotations

import json
from collections.abc import Mapping
from fractions import Fraction

from inspector import __version__
from inspector.delivery.model import Choice, Plan
from inspector.errors import MeshqcError
from inspector.fixes.base.fix import Step
from inspector.fixes.base.registry import fix_by_id

FORMAT = 1


def plan_to_json(plan: Plan) -> str:
    """One choice for each step, with the constants that were worked out; `summary` is for people."""
    document = {
        "format": FORMAT,
        "tool": {"name": "meshqc", "version": __version__},
        "choices": [
            {
                "fix": step.fix,
                "parameters": _given(step),
                "sequence": one.key,
                "frames": _frames(plan, one.key, step),
                "asked": _asked(plan, one.key, step),
                "summary": step.summary,
            }
            for one in plan.sequences
            for step in one.steps
        ],
    }
    return json.dumps(document, indent=2) + "\n"


def plan_from_json(text: str) -> tuple[Choice, ...]:
    """The choices of a plan file, for make_plan on this export or the next. Raises MeshqcError."""
    try:
        document = json.loads(text)
        if document["format"] != FORMAT:
            raise MeshqcError(f"a plan of format {FORMAT} is needed")
        return tuple(_choice(entry) for entry in document["choices"])
    except (ValueError, TypeError, KeyError, AttributeError, ZeroDivisionError) as error:
        raise MeshqcError(f"not a plan of this tool ({type(error).__name__})") from error


def _given(step: Step) -> dict[str, object]:
    """What the fix takes as parameters; of its other values the receipt tells."""
    known = fix_by_id(step.fix).parameters
    return {key: value for key, value in step.parameters.items() if key in known}


def _frames(plan: Plan, key: str, step: Step) -> list[str] | None:
    """The frames, where somebody chose them; those that findings name are found anew in the next export."""
    if not any(one.frames is not None for one in _choices(plan, key, step)):
        return None
    return [str(number) for number in step.frames]


def _asked(plan: Plan, key: str, step: Step) -> bool:
    """Whether the step is wanted in the next export also where no finding calls for it."""
    return any(choice.asked and (choice.frames is not None or not step.answers) for choice in _choices(plan, key, step))


def _choices(plan: Plan, key: str, step: Step) -> list[Choice]:
    return [choice for choice in plan.choices if choice.fix == step.fix and choice.sequence in (None, key)]


def _choice(entry: Mapping[str, object]) -> Choice:
    fix, parameters, sequence, frames = entry["fix"], entry["parameters"], entry["sequence"], entry["frames"]
    if not isinstance(fix, str) or not isinstance(parameters, dict):
        raise TypeError("fix and parameters")
    if not (sequence is None or isinstance(sequence, str)) or not (frames is None or isinstance(frames, list)):
        raise TypeError("sequence and frames")
    numbers = None if frames is None else tuple(Fraction(str(number)) for number in frames)
    return Choice(fix, parameters, sequence, numbers, bool(entry["asked"]))
