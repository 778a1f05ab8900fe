"""The healthy shot with different libraries and textures."""

from __future__ import annotations

from tests.helpers.images import image_file, normals
from tests.helpers.sequences import Files, frames, shot, wing

ALL = [float(number) for number in range(1, 13)]

NORMALS = image_file(normals())


def library(*lines: str) -> bytes:
    """Return a library of one material, `skin`, with these lines."""
    return "".join(f"{line}\n" for line in ("newmtl skin", *lines)).encode()


def with_library(*lines: str, **images: bytes) -> Files:
    """Return the shot with a different library, and without the shot's texture if the library doesn't use it.

    Each keyword argument adds a PNG texture. For example, `fin` adds the file `fin.png`.
    """
    gone = set() if any("skin.png" in line for line in lines) else {"skin.png"}
    files = {name: data for name, data in shot().items() if name not in gone}
    return files | {"manta.mtl": library(*lines)} | {f"{name}.png": data for name, data in images.items()}


def with_skin(image: bytes) -> Files:
    return shot() | {"skin.png": image}


def library_a_frame(texts: dict[int, bytes]) -> Files:
    """Return a shot in which each frame has its own library (`texts`, by frame number).

    The texture is left out if no library uses it.
    """
    meshes = {number: wing(number).edit(head=(f"mtllib manta.{number:04}.mtl", "o manta")) for number in texts}
    libraries = {f"manta.{number:04}.mtl": text for number, text in texts.items()}
    texture = {"skin.png": shot()["skin.png"]} if any(b"skin.png" in text for text in texts.values()) else {}
    return texture | libraries | frames(meshes)
