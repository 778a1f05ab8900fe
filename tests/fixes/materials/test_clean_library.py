"""Tests of `clean-library`."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.sequences import MATERIALS, Files, shot

PLAIN = MATERIALS["manta.mtl"]


@pytest.mark.parametrize(
    ("library", "check"),
    [
        # The Unicode Standard, chapter 3: the byte-order mark and UTF-16.
        (b"\xef\xbb\xbf" + PLAIN, "library-text"),
        (PLAIN.decode().encode("utf-16"), "library-text"),
        (PLAIN + b"newmtl  skin\r\nKd 1.0 1 1\nmap_Kd skin.png\n", "duplicate-materials"),
        (b"\xef\xbb\xbf" + PLAIN + PLAIN, "library-text"),
    ],
)
def test_each_form_becomes_plain(tmp_path: Path, library: bytes, check: str) -> None:
    result = fixed(tmp_path, shot() | {"manta.mtl": library}, "clean-library")
    assert result.after["manta.mtl"] == PLAIN
    assert result.changed() == {"manta.mtl"}
    assert result.delivery.proof.new == ()
    assert check not in {finding.check for finding in result.delivery.after.inspections[0].findings}


def test_definitions_that_differ_stay(tmp_path: Path) -> None:
    library = b"\xef\xbb\xbf" + PLAIN + b"newmtl skin\nKd 0.5 0 0\n"
    assert fixed(tmp_path, shot() | {"manta.mtl": library}, "clean-library").after["manta.mtl"] == library[3:]


def test_the_texture_of_the_copy_that_stays_goes_along(tmp_path: Path) -> None:
    result = fixed(tmp_path, shot() | {"manta.mtl": PLAIN + PLAIN}, "clean-library")
    assert result.after["skin.png"] == MATERIALS["skin.png"]


@pytest.mark.parametrize(
    ("files", "reason"),
    [
        (shot(), "no library has a fault that this fix corrects"),
        (
            {name: data for name, data in shot().items() if name != "manta.mtl"},
            "none of the material libraries that the frames refer to was found",
        ),
    ],
)
def test_refusals(tmp_path: Path, files: Files, reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "clean-library")
