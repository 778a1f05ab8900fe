"""Tests of the worst files, each as frame 7 of ten.

`tests.helpers.hostile.worst` makes them at full size. DEVELOPERS.md lists their sizes and the expected results.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.helpers.command import strict_json
from tests.helpers.hostile.evil_folders import bad_contents
from tests.helpers.hostile.said import FORMATS, Said, assert_harmless, said  # noqa: F401
from tests.helpers.hostile.worst import FRAME, WORST, spoilt

_BY_HAND = {
    *("long line", "names", "objects", "materials", "image", "NUL bytes"),
    *("socket", "folder", "dangling link", "looping link", "link to a device"),
}
"""Kinds whose tests are marked as slow, because the kinds are similar to other kinds or the tests take a long time."""


@pytest.mark.parametrize(
    "kind", [pytest.param(kind, marks=pytest.mark.slow) if kind in _BY_HAND else kind for kind in WORST]
)
def test_the_worst_of_its_kind(kind: str, tmp_path: Path, said: Said) -> None:  # noqa: F811
    if os.geteuid() and kind == "device":
        pytest.skip("NOT TESTED: only root can make a device; the link to one stands in")
    if not os.geteuid() and kind == "unreadable":
        pytest.skip("permissions don't bind root; test_unprivileged.py does it as another user")
    folder = spoilt(tmp_path / "in", kind)
    document = strict_json(said("check", folder, "--json", "--no-cache"))
    (sequence,) = document["sequences"]
    others = [one for one in sequence["frames"] if one["file"] != FRAME]
    assert len(others) == 9
    assert all(one["vertices"] == 20 for one in others), "the rest of the sequence is inspected"
    heard = {one["check"] for one in sequence["findings"] if 7 in one["frames"]}
    if "left out" in WORST[kind].heard:
        assert heard == {"missing-frames"}
        assert f"left out: {FRAME}" in said("check", folder, "--no-cache")
    else:
        assert WORST[kind].heard <= heard
        assert WORST[kind].heard or not heard
    for form in FORMATS:
        assert_harmless(said("check", folder, "--no-cache", "--format", form), form)
    assert not (tmp_path / "out").exists()
    assert_harmless(said("fix", folder, "--output", tmp_path / "out", "--dry-run", "--all", "--no-cache"), "text")
    assert not (tmp_path / "out").exists()


def test_a_frame_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, said: Said) -> None:  # noqa: F811
    """Root may read every file, so the missing permission is simulated."""
    folder = spoilt(tmp_path, "crowd")
    usual = os.open

    def opened(path: str, *rest: object, **more: object) -> int:
        if os.fspath(path).endswith(FRAME):
            raise PermissionError(13, "Permission denied")
        return usual(path, *rest, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(os, "open", opened)
    text = said("check", folder, "--no-cache")
    assert "the file could not be opened: Permission denied" in text


def test_frames_bad_in_every_way(tmp_path: Path, said: Said) -> None:  # noqa: F811
    folder = bad_contents(tmp_path)
    for form in FORMATS:
        assert_harmless(said("check", folder, "--no-cache", "--format", form), form)
    for kind in ("empty", "a single point", "nothing but not a number", "NUL bytes", "no faces"):
        (folder / kind).rename(tmp_path / kind)
    assert "wide to 1 high" in said("fit", folder)
