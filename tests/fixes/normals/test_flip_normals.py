"""Tests of `flip-normals`."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.sequences import frames, shot
from tests.helpers.with_normals import rings

RINGS = rings()
TURNED = frames(RINGS | {2: RINGS[2].edit(normals=0.0 - RINGS[2].normals)})


def test_the_frame_whose_normals_point_inward_is_found_and_turned(tmp_path: Path) -> None:
    result = fixed(tmp_path, TURNED, "flip-normals", frames=None)
    assert result.step.frames == (2,)
    assert result.touched("manta.0002.obj") == {b"vn"}
    assert result.after["manta.0002.obj"].replace(b"-0.000000", b"0.000000") == RINGS[2].text().replace(
        b"-0.000000", b"0.000000"
    )


@pytest.mark.parametrize("files", [shot(), frames(RINGS)])
def test_refusals(tmp_path: Path, files: dict[str, bytes]) -> None:
    with pytest.raises(Refusal, match="there is no frame on which most normals point to the backs of the faces"):
        plan_for(tmp_path, files, "flip-normals")
