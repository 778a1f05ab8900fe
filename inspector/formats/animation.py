"""The common interface of the scene formats, whose files hold a whole animation."""

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
    """A mesh in a scene file, with the properties that are shown when meshes are listed.

    Attributes:
        path: Path of the mesh in the file.
        kind: "mesh", or "cage" for the control cage of a subdivision surface.
        faces: Number of faces in the first sample; None if it is not known.
        motion: "still", "moving" or "changing faces"; "" if it is not known.
        materials: Names of the materials.
        uv_sets: Names of the UV sets, with the main set first.
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
    """A selection of meshes and UVs in a scene file, and their conversion, for all frames.

    Attributes:
        only: Paths and patterns (such as `*/kelp*`) of the selected meshes. A path also selects the meshes below it.
            Empty for all meshes.
        uv_set: Name of the UV set; None for the main set.
        blend: Whether a frame between two samples is interpolated.
        scale: Scale factor for all frames.
        z_up: Whether z points up in the file; if so, the z axis becomes the y axis.
    """

    only: tuple[str, ...] = ()
    uv_set: str | None = None
    blend: bool = False
    scale: float = 1.0
    z_up: bool = False

    def takes(self, path: str) -> bool:
        """Whether the mesh at a path is selected."""
        return not self.only or any(at_or_below(path, one) for one in self.only)

    @property
    def constant(self) -> Floats:
        """The matrix that scales the mesh and changes its axes, for column vectors, (4, 4)."""
        return np.diag([self.scale, self.scale, self.scale, 1.0]) @ (_Z_TO_Y if self.z_up else np.eye(4))


_Z_TO_Y = np.array([[1, 0, 0, 0], [0, 0, 1, 0], [0, -1, 0, 0], [0, 0, 0, 1]], np.float64)
"""Matrix for column vectors that maps the z axis to the y axis, by a quarter turn about x."""


def at_or_below(path: str, above: str) -> bool:
    """Whether a path is at or below another path, or matches a pattern.

    Args:
        path: Path of a mesh in a scene file.
        above: The other path, or a pattern such as `*/kelp*`. Letter case matters.
    """
    return path == above or path.startswith(above.rstrip("/") + "/") or fnmatchcase(path, above)


_MOST_NAMES = 8


def listed_names(names: Iterable[str]) -> str:
    """Make a comma-separated list of names that come from a file. Repeated names are listed only once. Names
    after the first `_MOST_NAMES` are replaced by an ellipsis."""
    once = [safe(name) for name in dict.fromkeys(names)]
    return ", ".join([*once[:_MOST_NAMES], *(["..."] if len(once) > _MOST_NAMES else [])])


def other_uv_sets(meshes: Sequence[SceneMesh]) -> Iterator[LeftOut]:
    """Yield one entry for the UV sets that are left out, if any.

    Args:
        meshes: All meshes of the file.
    """
    several = [name for mesh in meshes if len(mesh.uv_sets) > 1 for name in mesh.uv_sets]
    if several:
        names = listed_names(several)
        kept = "the main set, or the set given with --uv-set, is kept"
        yield LeftOut(f"all but one UV set per mesh (sets: {names}); {kept}")


class Animation(Protocol):
    """An open file that holds a whole animation.

    Attributes:
        meshes: All meshes, in the order of the file.
        frames: Numbers of the whole frames.
        sub_frames: Numbers of the sub-frames.
        metres: Length of a unit in metres; None if neither the file nor the format states it.
        up: The axis that points up, "y" or "z"; None if neither the file nor the format states it.
        rate: Frames per second.
        rate_source: Source of the rate: "file", "samples", "stated" (by the user) or "unknown".
        notes: Content that will be left out, as far as it is known when the file is opened.
        left_out: Content that was left out of the frames read so far, with the number of frames concerned.
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
            UnreadableFrame: No selected mesh is visible in the frame, or none of the visible meshes can be read.
            MeshqcError: The file has changed since it was opened, or a visible mesh has no sample at that frame and
                can't be interpolated (see `Take.blend`).
        """
        ...

    def box(self, number: Fraction, take: Take) -> Floats | None:
        """Estimate the bounding box of the selected meshes that are visible in a frame, as cheaply as the format
        allows.

        Args:
            number: The frame number.
            take: The selection of meshes and UVs, and their conversion.

        Returns:
            Minimum and maximum, (2, 3); None if no selected mesh is both visible and readable.
        """
        ...


@dataclass(frozen=True, slots=True)
class Opening:
    """Options for opening a scene file.

    Attributes:
        rate: Frames per second; None if the user states no rate.
        allowed: Folders from which referenced files may be read, in addition to the scene file's own folder.
        instances: Whether the copies made by instancers are read as meshes.
    """

    rate: Fraction | None = None
    allowed: tuple[Path, ...] = ()
    instances: bool = False


@dataclass(frozen=True, slots=True)
class Brief:
    """The properties of an animation that a writer needs before the first frame.

    Attributes:
        name: Name of the sequence.
        frames: Numbers of all frames, in ascending order.
        materials: Names of all materials that faces have in any frame.
        rate: Frames per second; None if it isn't stated.
        metres: Length of a unit in metres; None if it isn't stated.
        uvs: Whether any frame has faces with UVs.
        normals: Whether any frame has faces with normals.
        colours: Whether any frame has vertex colours.
        partial_uvs: Whether any frame has faces without UVs.
        double_sided: Whether the backs of faces are visible.
        missing: Numbers of missing frames between the first and the last, in ascending order.
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
"""Maximum absolute value of a frame number in a written scene file (482 days at 24 fps). Up to this value, frame times
stored as float64 are precise enough to distinguish the smallest steps between sub-frames."""

MOST_FRAMES = 1_000_000
"""Maximum number of frames from the first to the last frame of a scene file, not counting sub-frames (over eleven hours
at 24 fps). A file that states more is probably damaged, and listing its frames would exhaust the memory."""


class AnimationWriter(Protocol):
    """A writer of one animation file. Frames are added in ascending order, and `save` completes the file."""

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
