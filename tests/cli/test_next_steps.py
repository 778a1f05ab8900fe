"""What `check` offers as the next command has something to do."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.cli.next_steps import next_steps
from inspector.delivery.choices import all_choices, lossless_choices
from inspector.delivery.planning import make_plan
from inspector.inspection.inspection import inspect_folder
from inspector.sequence.discovery.settings import Settings
from tests.helpers.broken.topology import one_face_less
from tests.helpers.broken.uvs import bare, layout_turned
from tests.helpers.sequences import Files, shot, write
from tests.helpers.uvs import all_laid

KINDS: dict[str, Files] = {
    "no UVs on one frame": shot({5: bare}),
    "no UVs": shot(dict.fromkeys(range(1, 13), bare)),
    "mirrored UVs": all_laid(lambda uv: [1, 0] + uv * [-1, 1], first=0),
    "turned UVs": layout_turned(90),
    "another topology": shot({5: one_face_less}),
    "another topology on many frames": shot(dict.fromkeys(range(3, 8), one_face_less)),
    "not readable": shot() | {"manta.0005.obj": b""},
}


@pytest.mark.parametrize("kind", KINDS)
def test_the_next_command_has_something_to_do(kind: str, tmp_path: Path) -> None:
    result = inspect_folder(write(tmp_path, KINDS[kind]))
    lines = next_steps(result, tmp_path, Settings())
    if not lines:
        assert all(finding.severity.word == "note" for finding in result.inspections[0].findings)
        return
    assert lines[0].startswith("next: meshqc ")
    if " fix " not in lines[0]:
        assert make_plan(result, all_choices(result)).steps == ()
        return
    every = " --all " in f"{lines[0]} "
    plan = make_plan(result, all_choices(result) if every else lossless_choices(result))
    if "refused" in lines[1]:
        assert plan.steps == ()
        assert plan.sequences[0].refused
    else:
        assert plan.steps


@pytest.mark.parametrize("name", ["manta_broken", "kelp_broken"])
def test_the_next_command_of_the_demo_has_something_to_do(demo: Path, name: str) -> None:
    result = inspect_folder(demo / name)
    assert "--all" not in next_steps(result, demo / name, Settings())[0]
    assert make_plan(result, lossless_choices(result)).steps
