"""The healthy shot with other libraries and images, for tests of materials and textures."""

from __future__ import annotations

from tests.helpers.images import image_file, normals
from tests.helpers.sequences import Files, frames, shot, wing

ALL = [float(number) for number in range(1, 13)]
"""The frames of the healthy shot."""

NORMALS = image_file(normals())
"""A normal map, as a file."""


def library(*lines: str) -> bytes:
    """A library of one material, skin, with these lines."""
    return "".join(f"{line}\n" for line in ("newmtl skin", *lines)).encode()


def with_library(*lines: str, **images: bytes) -> Files:
    """The shot with another library; images by the name that stands before `.png`."""
    return shot() | {"manta.mtl": library(*lines)} | {f"{name}.png": data for name, data in images.items()}


def with_skin(image: bytes) -> Files:
    """The shot with another texture."""
    return shot() | {"skin.png": image}


def library_a_frame(texts: dict[int, bytes]) -> Files:
    """The shot with a library for each frame, by number."""
    meshes = {number: wing(number).edit(head=(f"mtllib manta.{number:04}.mtl", "o manta")) for number in texts}
    libraries = {f"manta.{number:04}.mtl": text for number, text in texts.items()}
    return {"skin.png": shot()["skin.png"]} | libraries | frames(meshes)
