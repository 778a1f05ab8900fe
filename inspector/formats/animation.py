"""Files that hold a whole animation (scene files): how they are listed, read frame by frame, and written."""

from __future__ import annotations

from collections import Counter
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
    """One mesh of a scene file, as a list shows it.

    Attributes:
        path: Its path in the file.
        kind: "mesh", or "cage" of a subdivision surface.
        faces: Number of faces in the first sample; None if it is not known.
        motion: "still", "moving" or "changing faces"; "" if it is not known.
        materials: Their names.
        uv_sets: Names of the UV sets, the main one first.
        hidden: Whether the mesh is never visible.
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
    """The selection from a file that holds a whole animation, the same for all frames.

    Attributes:
        only: Paths, or patterns such as `*/kelp*`; a mesh at or below one of them is taken. Empty: all meshes.
        uv_set: Name of the UV set; None: the main set.
        blend: Whether a frame between two samples is interpolated from them.
        scale: Factor by which all frames are scaled.
        z_up: Whether z points up in the file; the z axis then becomes the y axis.
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
        """Scale and rotation as one matrix for column vectors, (4, 4)."""
        return np.diag([self.scale, self.scale, self.scale, 1.0]) @ (_Z_TO_Y if self.z_up else np.eye(4))


_Z_TO_Y = np.array([[1, 0, 0, 0], [0, 0, 1, 0], [0, -1, 0, 0], [0, 0, 0, 1]], np.float64)
"""A quarter turn about x: the direction up changes from z to y."""


def at_or_below(path: str, above: str) -> bool:
    """Whether a path equals another path, is below it, or matches it as a pattern.

    Args:
        path: Path of a mesh in a scene file.
        above: A path, or a pattern such as `*/kelp*`; letter case matters.
    """
    return path == above or path.startswith(above.rstrip("/") + "/") or fnmatchcase(path, above)


class Animation(Protocol):
    """An opened file that holds a whole animation.

    Attributes:
        meshes: All meshes, in the order of the file.
        frames: Numbers of the whole frames.
        sub_frames: Numbers of the frames between whole frames.
        metres: Length of a unit in metres; None: the file doesn't state it.
        up: The axis that points up, "y" or "z"; None: the file doesn't state it.
        rate: Frames per second.
        rate_source: The origin of the rate: "file", "samples", "stated" (by the user) or "unknown".
        notes: The content that is not carried over.
        left_out: The content that was left out of the frames read so far, and the number of frames affected.
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
        """Read one frame in world space.

        Args:
            number: Number of the frame.
            take: The selection of frames, meshes and UVs.

        Raises:
            UnreadableFrame: The frame is damaged, or shows no mesh.
            MeshqcError: The file has no sample there.
        """
        ...

    def box(self, number: Fraction, take: Take) -> Floats | None:
        """The approximate bounding box of a frame, read as cheaply as the format allows.

        Args:
            number: Number of the frame.
            take: The selection of frames, meshes and UVs.

        Returns:
            Minimum and maximum, (2, 3); None if the frame shows no mesh.
        """
        ...


@dataclass(frozen=True, slots=True)
class Opening:
    """How a file that holds a whole animation is opened.

    Attributes:
        rate: Frames per second, if the user states it.
        allowed: Further folders from which parts of the file may be read, besides its own.
        instances: Whether the copies that an instancer makes are taken as meshes.
    """

    rate: Fraction | None = None
    allowed: tuple[Path, ...] = ()
    instances: bool = False


@dataclass(frozen=True, slots=True)
class Brief:
    """The known properties of an animation before its first frame is written.

    Attributes:
        name: Name of the sequence.
        frames: The numbers of all frames, rising.
        materials: Names of all materials that faces have in any frame.
        rate: Frames per second; None: not stated.
        metres: Length of a unit in metres; None: not stated.
        uvs: Whether faces of any frame have UVs.
        normals: Whether faces of any frame have normals.
        colours: Whether vertices of any frame have colours.
        partial_uvs: Whether faces of any frame have no UVs.
        double_sided: Whether the backs of faces are shown.
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


LARGEST_FRAME = 1_000_000_000
"""Largest absolute value of a frame number in a scene file. Times are 64-bit numbers, which still distinguish the
smallest part of such a frame. At 24 fps, the frame is 482 days away from frame 0."""

MOST_FRAMES = 1_000_000
"""Maximum number of whole frames from the first to the last frame of a scene file: eleven hours at 24 fps. A file that
states more frames is damaged, and a list of them would fill the memory.
"""


class AnimationWriter(Protocol):
    """Takes the frames in order; the file is complete once it is saved."""

    def add(self, number: Fraction, mesh: Mesh) -> None:
        """Add one frame.

        Args:
            number: Number of the frame.
            mesh: Its mesh in world space.

        Raises:
            Refusal: The format can't hold some of its content.
        """
        ...

    def save(self) -> None:
        """Complete the file. Raises OSError."""
        ...
