"""Save a plan as a file and read it again, so that the next export gets the same corrections."""

from __future__ import annotations

import json
from collections.abc import Mapping, Set
from dataclasses import dataclass, replace
from pathlib import Path

from inspector import __version__
from inspector.delivery.choices import Choice
from inspector.delivery.plan import Plan
from inspector.errors import MeshqcError
from inspector.fixes.base.fix import AnyStep
from inspector.fixes.base.registry import fix_by_id
from inspector.names import safe
from inspector.rules.values import frame_range, positive, rate
from inspector.safe_open import read_file
from inspector.sequence.discovery.settings import Settings, fraction_of_json, frame_json

FORMAT = 2


def plan_to_json(plan: Plan) -> str:
    """Convert a plan to JSON text: the user's statements about the folder, and one choice for each step."""
    document = {
        "format": FORMAT,
        "tool": {"name": "meshqc", "version": __version__},
        "stated": statements_to_json(plan.inspection.settings),
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


@dataclass(frozen=True, slots=True)
class SavedPlan:
    """The content of a plan file.

    Attributes:
        choices: The choices for `make_plan`.
        stated: The statements that the user had made about the folder before the plan was made.
    """

    choices: tuple[Choice, ...]
    stated: Settings


def plan_from_json(text: str) -> SavedPlan:
    """Read a plan file.

    Raises:
        MeshqcError: The text isn't a plan file, or this version of meshqc doesn't read its format.
    """
    try:
        document = json.loads(text)
        if document["format"] != FORMAT:
            raise MeshqcError(
                f"the plan has format {safe(str(document['format']))}, but this version of meshqc reads only format "
                f"{FORMAT}; save the plan again with `meshqc fix FOLDER --save PLAN.json`"
            )
        stated = statements_from_json(document["stated"]) if "stated" in document else Settings()
        return SavedPlan(tuple(choice_from_json(entry) for entry in document["choices"]), stated)
    except (ValueError, TypeError, KeyError, AttributeError, ZeroDivisionError, RecursionError) as error:
        raise MeshqcError("not a plan file written by `meshqc fix --save`") from error


def plans_of(export: Path, sequences: Set[str]) -> list[tuple[Path, SavedPlan]]:
    """Find the plan files that fit the sequences of an export, in the export's folder or beside it.

    Args:
        export: The folder of the export.
        sequences: Keys of the export's sequences. If the export has only one sequence, a plan for a single sequence
            fits too, even if that sequence has a different name.

    Returns:
        Path and content of each plan file.
    """
    found = []
    for path in sorted([*export.glob("*.json"), *export.absolute().parent.glob("*.json")])[:_PLANS_READ]:
        plan = _plan_in(path)
        wanted = set() if plan is None else {one.sequence for one in plan.choices if one.sequence is not None}
        if plan is not None and wanted and (wanted <= sequences or len(wanted) == len(sequences) == 1):
            found.append((path, plan))
    return found


_PLANS_READ = 50
"""Maximum number of JSON files that are searched for plans. The files are searched in the order of their paths."""

_PLAN_BYTES = 10_000_000
"""Maximum size of a plan file, in bytes: ten times the size of a plan that lists every frame of a long sequence."""


def _plan_in(path: Path) -> SavedPlan | None:
    try:
        return plan_from_json(read_file(path).decode()) if path.stat().st_size <= _PLAN_BYTES else None
    except (OSError, UnicodeDecodeError, MeshqcError):  # not a plan
        return None


def _given(step: AnyStep) -> dict[str, object]:
    """Return the step's values for the parameters of its fix."""
    known = fix_by_id(step.fix).parameters
    return {key: value for key, value in step.parameters.items() if key in known}


def _frames(plan: Plan, key: str, step: AnyStep) -> list[str] | None:
    """Return the step's frames if the user chose them; None if they come from findings, because the next export may
    have other findings."""
    if not any(one.frames is not None for one in _choices(plan, key, step)):
        return None
    return [str(number) for number in step.frames]


def _asked(plan: Plan, key: str, step: AnyStep) -> bool:
    """Whether the step is to be applied to the next export even if no finding of that export names its fix."""
    return any(choice.asked and (choice.frames is not None or not step.answers) for choice in _choices(plan, key, step))


def _choices(plan: Plan, key: str, step: AnyStep) -> list[Choice]:
    return [choice for choice in plan.choices if choice.fix == step.fix and choice.sequence in (None, key)]


def choice_to_json(choice: Choice) -> dict[str, object]:
    """Convert a choice to values for JSON. `choice_from_json` is the inverse."""
    frames = None if choice.frames is None else [str(number) for number in choice.frames]
    return {
        "fix": choice.fix,
        "parameters": dict(choice.parameters),
        "sequence": choice.sequence,
        "frames": frames,
        "asked": choice.asked,
    }


def choice_from_json(entry: Mapping[str, object]) -> Choice:
    """Convert the result of `choice_to_json` back to a choice.

    Raises:
        TypeError, KeyError, ValueError, ZeroDivisionError: The entry is not a choice.
    """
    fix, parameters, sequence, frames = entry["fix"], entry["parameters"], entry["sequence"], entry["frames"]
    if not isinstance(fix, str) or not isinstance(parameters, dict):
        raise TypeError("fix and parameters")
    if not (sequence is None or isinstance(sequence, str)) or not (frames is None or isinstance(frames, list)):
        raise TypeError("sequence and frames")
    numbers = None if frames is None else tuple(fraction_of_json(number) for number in frames)
    return Choice(fix, parameters, sequence, numbers, bool(entry["asked"]))


def statements_to_json(settings: Settings) -> dict[str, object]:
    """Convert the user's statements to values for JSON. A statement that the user didn't make becomes None."""
    return {
        "frames": None if settings.expected is None else [frame_json(number) for number in settings.expected],
        "size": settings.size,
        "reference": None if settings.reference is None else frame_json(settings.reference),
        "rate": None if settings.rate is None else str(settings.rate),
        "invent_at_most": settings.invent_at_most,
    }


def statements_from_json(given: object) -> Settings:
    """Convert the result of `statements_to_json` back to statements. The values must also be valid on the command line.

    Raises:
        TypeError, KeyError, ValueError, ZeroDivisionError: The values are not statements.
    """
    if not isinstance(given, Mapping):
        raise TypeError("statements")
    expected, size, reference, frames_per_second = (given[key] for key in ("frames", "size", "reference", "rate"))
    first, last = (None, None) if expected is None else expected
    invented = given.get("invent_at_most")
    if not (invented is None or (isinstance(invented, int) and invented > 0)):
        raise ValueError("invent_at_most")
    return Settings(
        expected=None if expected is None else frame_range(f"{first}-{last}"),
        size=None if size is None else positive(str(size)),
        reference=None if reference is None else fraction_of_json(reference),
        rate=None if frames_per_second is None else rate(str(frames_per_second)),
        invent_at_most=invented,
    )


def with_statements(settings: Settings, kept: Settings) -> Settings:
    """Return the current statements of the user. Missing statements are taken from `kept`.

    Args:
        settings: The current statements.
        kept: The earlier statements.
    """
    return replace(
        settings,
        expected=settings.expected or kept.expected,
        size=settings.size or kept.size,
        reference=kept.reference if settings.reference is None else settings.reference,
        rate=settings.rate or kept.rate,
        invent_at_most=settings.invent_at_most or kept.invent_at_most,
    )
