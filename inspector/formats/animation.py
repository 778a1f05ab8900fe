"""Files that hold a whole animation (scene files): how their meshes are listed, and how they are read frame by frame
and written.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from fractions import Fraction
from pathlib import Path
from typing import Protocol

import numpy as np

from inspector.arrays import Floats
from inspector.formats.mesh import LeftOut, Mesh
from inspector.names import Name, safe


@dataclass(frozen=True, slots=True)
class SceneMesh:
    """The properties of a mesh in a scene file that are shown in lists.

    Attributes:
        path: Its path in the file.
        kind: "mesh", or "cage" for the cage of a subdivision surface.
        faces: Number of faces in the first sample; None if it is not known.
        motion: "still", "moving" or "changing faces"; "" if it is not known.
        materials: Names of the materials.
        uv_sets: Names of the UV sets, the main set first.
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
    """The selection of meshes and UVs to read from a scene file, and their conversion. It is the same for all frames.

    Attributes:
        only: Paths, or patterns such as `*/kelp*`. A mesh is taken if it is at or below one of the paths, or matches
            one of the patterns. Empty to take all meshes.
        uv_set: Name of the UV set; None for the main set.
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
        """Whether the mesh at a path is taken."""
        return not self.only or any(at_or_below(path, one) for one in self.only)

    @property
    def constant(self) -> Floats:
        """The scale and the change of axes as one matrix for column vectors, (4, 4)."""
        return np.diag([self.scale, self.scale, self.scale, 1.0]) @ (_Z_TO_Y if self.z_up else np.eye(4))


_Z_TO_Y = np.array([[1, 0, 0, 0], [0, 0, 1, 0], [0, -1, 0, 0], [0, 0, 0, 1]], np.float64)
"""Matrix of a quarter turn about x, for column vectors: a vector along z becomes a vector along y."""


def at_or_below(path: str, above: str) -> bool:
    """Whether a path equals another path, is below it, or matches it as a pattern.

    Args:
        path: Path of a mesh in a scene file.
        above: The other path, or a pattern such as `*/kelp*`. Letter case matters.
    """
    return path == above or path.startswith(above.rstrip("/") + "/") or fnmatchcase(path, above)


_MOST_NAMES = 8


def listed_names(names: Iterable[str]) -> str:
    """Join names from a file with commas, each name once. If there are more than `_MOST_NAMES`, an ellipsis replaces
    the rest.

    Args:
        names: The names.
    """
    once = [safe(name) for name in dict.fromkeys(names)]
    return ", ".join([*once[:_MOST_NAMES], *(["..."] if len(once) > _MOST_NAMES else [])])


def other_uv_sets(meshes: Sequence[SceneMesh]) -> Iterator[LeftOut]:
    """Report that all but one UV set per mesh are left out, if a mesh has more than one.

    Args:
        meshes: All meshes of the file.
    """
    several = [name for mesh in meshes if len(mesh.uv_sets) > 1 for name in mesh.uv_sets]
    if several:
        names = listed_names(several)
        yield LeftOut(f"all but one UV set per mesh ({names}); the main set is kept, or the set that --uv-set names")


class Animation(Protocol):
    """An opened file that holds a whole animation.

    Attributes:
        meshes: All meshes, in the order of the file.
        frames: The frame numbers, without those of sub-frames.
        sub_frames: The numbers of the sub-frames.
        metres: Length of a unit in metres; None if neither the file nor the format states it.
        up: The axis that points up, "y" or "z"; None if neither the file nor the format states it.
        rate: Frames per second.
        rate_source: The origin of the rate: "file", "samples", "stated" (by the user) or "unknown".
        notes: Content that will be left out, as far as that is known when the file is opened.
        left_out: Content that was left out of the frames read so far, with the number of frames affected.
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
            number: The frame number.
            take: The selection of meshes and UVs, and their conversion.

        Raises:
            UnreadableFrame: The frame is damaged, or shows no mesh.
            MeshqcError: The file has no sample at that frame, and none can be interpolated with these options.
        """
        ...

    def box(self, number: Fraction, take: Take) -> Floats | None:
        """The approximate bounding box of a frame, read as cheaply as the format allows.

        Args:
            number: The frame number.
            take: The selection of meshes and UVs, and their conversion.

        Returns:
            Minimum and maximum, (2, 3); None if the frame is damaged or shows no mesh.
        """
        ...


@dataclass(frozen=True, slots=True)
class Opening:
    """The options for opening a scene file.

    Attributes:
        rate: Frames per second, if the user states them.
        allowed: Folders from which files that the scene file names may be read, in addition to its own folder.
        instances: Whether the copies that an instancer makes are taken as meshes.
    """

    rate: Fraction | None = None
    allowed: tuple[Path, ...] = ()
    instances: bool = False


@dataclass(frozen=True, slots=True)
class Brief:
    """The properties of an animation that are known before its first frame is written.

    Attributes:
        name: Name of the sequence.
        frames: The numbers of all frames, in ascending order.
        materials: Names of all materials that faces have in any frame.
        rate: Frames per second; None if not stated.
        metres: Length of a unit in metres; None if not stated.
        uvs: Whether any frame has faces with UVs.
        normals: Whether any frame has faces with normals.
        colours: Whether any frame has vertices with colours.
        partial_uvs: Whether any frame has faces without UVs.
        double_sided: Whether the backs of faces are shown.
        missing: The numbers of missing frames between the first and the last, in ascending order.
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
    missing: tuple[Fraction, ...] = ()


LARGEST_FRAME = 1_000_000_000
"""Largest absolute value of a frame number in a scene file that is written. Times are float64 numbers, which at that
size still distinguish the smallest steps between sub-frames. At 24 fps, that frame is 482 days away from frame 0.
"""

MOST_FRAMES = 1_000_000
"""Maximum number of frames from the first to the last frame of a scene file, not counting sub-frames: eleven hours at
24 fps. A file that states more frames is damaged, and a list of them would fill the memory.
"""


class AnimationWriter(Protocol):
    """Writes an animation, frame by frame in ascending order. The file is complete only after `save`."""

    def add(self, number: Fraction, mesh: Mesh) -> None:
        """Add one frame.

        Args:
            number: The frame number.
            mesh: The mesh of the frame, in world space.

        Raises:
            Refusal: The format can't hold some content of the mesh.
        """
        ...

    def save(self) -> None:
        """Complete the file.

        Raises:
            OSError: The file can't be written.
        """
        ...
