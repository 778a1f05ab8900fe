"""What a file is that holds a whole animation (a scene file): how it is listed, read frame by frame, and written."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from fnmatch import fnmatchcase
from fractions import Fraction
from pathlib import Path
from typing import Protocol

import numpy as np

from inspector.arrays import Floats
from inspector.formats.mesh import LeftOut, Mesh
from inspector.names import Name


@dataclass(frozen=True, slots=True)
class SceneMesh:
    """One mesh of a file that holds a whole animation, as a list shows it.

    Attributes:
        path: In the file.
        kind: "mesh", or "cage" of a subdivision surface.
        faces: Of the first sample; None if the list doesn't know.
        motion: "still", "moving" or "changing faces"; "" if the list doesn't know.
        materials: Their names.
        uv_sets: Names of the UV sets, the main one first.
        hidden: Whether it is never visible.
    """

    path: str
    kind: str = "mesh"
    faces: int | None = None
    motion: str = ""
    materials: tuple[str, ...] = ()
    uv_sets: tuple[str, ...] = ()
    hidden: bool = False


@dataclass(frozen=True, slots=True)
class Take:
    """What is taken of a file that holds a whole animation, for all frames alike.

    Attributes:
        only: Paths, or patterns such as `*/kelp*`; a mesh at or below one of them is taken. Empty: all meshes.
        uv_set: Name of the UV set; None: the main one.
        blend: Whether a frame between two samples is blended from them.
        scale: One constant for all frames.
        z_up: Whether z points up in the file; it becomes y.
    """

    only: tuple[str, ...] = ()
    uv_set: str | None = None
    blend: bool = False
    scale: float = 1.0
    z_up: bool = False

    def takes(self, path: str) -> bool:
        """Whether the mesh at that path is taken."""
        return not self.only or any(at_or_below(path, one) for one in self.only)

    @property
    def constant(self) -> Floats:
        """Scale and turn as one matrix for columns, (4, 4)."""
        return np.diag([self.scale, self.scale, self.scale, 1.0]) @ (_Z_TO_Y if self.z_up else np.eye(4))


_Z_TO_Y = np.array([[1, 0, 0, 0], [0, 0, 1, 0], [0, -1, 0, 0], [0, 0, 0, 1]], np.float64)
"""A quarter turn about x: what pointed up along z points up along y."""


def at_or_below(path: str, above: str) -> bool:
    """Whether a path is the other one, is below it, or fits it as a pattern."""
    return path == above or path.startswith(above.rstrip("/") + "/") or fnmatchcase(path, above)


class Animation(Protocol):
    """A file that holds a whole animation, opened.

    Attributes:
        meshes: All of them, in the file's order.
        frames: Numbers of the whole frames; sub_frames: those between them.
        metres: Length of a unit; None: the file doesn't say.
        up: The axis that points up, "y" or "z"; None: the file doesn't say.
        rate: Frames per second.
        rate_source: Where the rate is from: "file", "samples", "stated" by the user, or "unknown".
        notes: What is not taken over.
        left_out: What was left out of the frames that were read so far -> in how many.
    """

    meshes: tuple[SceneMesh, ...]
    frames: tuple[Fraction, ...]
    sub_frames: tuple[Fraction, ...]
    metres: float | None
    up: str | None
    rate: Fraction
    rate_source: str
    notes: tuple[LeftOut, ...]
    left_out: Counter[LeftOut]

    def mesh(self, number: Fraction, take: Take) -> Mesh:
        """One frame in world space.

        Raises:
            UnreadableFrame: The frame is damaged, or shows no mesh.
            MeshqcError: The file has no sample there.
        """
        ...

    def box(self, number: Fraction, take: Take) -> Floats | None:
        """About the box of a frame, (2, 3), without reading more than it takes; None if it shows no mesh."""
        ...


@dataclass(frozen=True, slots=True)
class Opening:
    """How a file that holds a whole animation is opened.

    Attributes:
        rate: Frames per second, if the user states it.
        allowed: Folders beside the file's own from which parts of it may be read.
        instances: Whether copies that an instancer makes are taken as meshes.
    """

    rate: Fraction | None = None
    allowed: tuple[Path, ...] = ()
    instances: bool = False


@dataclass(frozen=True, slots=True)
class Brief:
    """What is known of an animation before its first frame is written.

    Attributes:
        name: Of the sequence.
        frames: The numbers of all frames, rising.
        materials: Names of all materials that faces have in any frame.
        rate: Frames per second; metres: length of a unit; None: not stated.
        uvs, normals, colours: Whether faces of any frame have some.
        partial_uvs: Whether faces of any frame have none.
        double_sided: Whether the backs of faces are to be shown.
    """

    name: Name
    frames: tuple[Fraction, ...]
    materials: tuple[Name, ...] = ()
    rate: Fraction | None = None
    metres: Fraction | None = None
    uvs: bool = False
    normals: bool = False
    colours: bool = False
    partial_uvs: bool = False
    double_sided: bool = False


class AnimationWriter(Protocol):
    """Takes the frames in order; the file is complete once it is saved."""

    def add(self, number: Fraction, mesh: Mesh) -> None:
        """One more frame. Raises Refusal for what the format can't hold."""
        ...

    def save(self) -> None:
        """Complete the file. Raises OSError."""
        ...


@dataclass(frozen=True, slots=True)
class SceneFormat:
    """How a format holds a whole animation.

    Attributes:
        open: The animation in a file. Raises UnreadableFrame, or MeshqcError that says what to install.
        write: Path of a new file -> its writer. Raises MeshqcError that says what to install.
        ending: Of a file that is written.
        states_unit: Whether the file says what a unit is.
        need: Raises MeshqcError if a library is missing.
    """

    open: Callable[[Path, Opening], Animation]
    write: Callable[[Path, Brief], AnimationWriter]
    ending: str
    states_unit: bool
    need: Callable[[], None]
