"""Tests of fixes that are refused because a parameter is missing."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from inspector.cli.values import fix as option
from inspector.errors import Refusal
from inspector.fixes.base.fix import AnyFix
from inspector.fixes.base.registry import all_fixes
from tests.fixes.materials.test_replace_missing_maps import LOST
from tests.helpers.fixing import plan_for
from tests.helpers.materials import with_library
from tests.helpers.sequences import Files, shot

OPTION = re.compile(r"`--with ([^`]+)`")
ASKS: dict[str, tuple[Files, dict[str, object]]] = {
    "every-nth": (shot(), {}),
    "retime": (shot(), {}),
    "align": (shot(), {}),
    "align, up": (shot(), {"at": "ground"}),
    "scale": (shot(), {}),
    "scale, units": (shot(), {"from": "cm"}),
    "offset": (shot(), {}),
    "up-axis": (shot(), {}),
    "handedness": (shot(), {}),
    "uv-turn": (shot(), {}),
    "uv-mirror": (shot(), {}),
    "opacity-statement": (with_library("Tr 1"), {}),
    "replace-missing-maps": (with_library(LOST), {}),
}
"""For each fix, files for which the fix needs one more parameter, and the parameters that are already given."""
EXAMPLES = {"every-nth", "retime", "scale", "offset:x=0,y=-1.5,z=0", "uv-turn", "uv-mirror"}
"""Options that refusals name, but do not offer as answers. The id of a fix stands for all options of that fix. The
options of `uv-turn` and `uv-mirror` would override what these fixes have found. All other options are only examples."""


@pytest.mark.parametrize("name", ASKS)
def test_the_named_option_is_what_it_needs(name: str, tmp_path: Path) -> None:
    files, given = ASKS[name]
    fix = name.partition(",")[0]
    with pytest.raises(Refusal) as refusal:
        plan_for(tmp_path / "asks", files, fix, given)
    options = OPTION.findall(str(refusal.value))
    assert options, str(refusal.value)
    answers = [f"{option} {words}" for option, words in refusal.value.answers]
    assert answers == [f"--with {words}" for words in options if fix not in EXAMPLES and words not in EXAMPLES]
    for number, words in enumerate(options):
        identifier, parameters = option(words)
        assert identifier == fix
        (step,) = plan_for(tmp_path / str(number), files, identifier, parameters).steps
        assert step.fix == fix


WITH_PARAMETERS = [pytest.param(fix, id=fix.id) for fix in all_fixes() if fix.parameters]


@pytest.mark.parametrize("fix", WITH_PARAMETERS)
def test_every_parameter_states_its_default_or_that_it_is_required(fix: AnyFix) -> None:
    assert fix.described.keys() == fix.parameters.keys() >= fix.required
    for name, text in fix.described.items():
        assert ("default: " in text) != ("required" in text), f"{name}: {text}"
        assert text.endswith("; required") == (name in fix.required)


@pytest.mark.parametrize("fix", [fix for fix in WITH_PARAMETERS if fix.values[0].required])
def test_without_what_is_required_it_is_refused(fix: AnyFix, tmp_path: Path) -> None:
    files = ASKS.get(fix.id, (shot(), {}))[0]
    with pytest.raises(Refusal, match=f"--with {fix.id}:.*({'|'.join(fix.required)})="):
        plan_for(tmp_path, files, fix.id)
