"""glTF 2.0 (.glb and .gltf). Source: Khronos, glTF 2.0 specification."""

from __future__ import annotations

from inspector.formats.format import Beside, Content, Format, Trait
from inspector.formats.mesh import Mesh

_LEAVES = "vertices with several UVs or normals are split; numbers are stored in single precision"
_CARRIES = frozenset(Trait) - {
    *(
        Trait.STATEMENTS,
        Trait.POLYGONS,
        Trait.GROUPS,
        Trait.SMOOTHING,
        Trait.LIBRARIES,
        Trait.LOOSE,
        Trait.CURVES,
        Trait.DEPTHS,
    ),
}


def read(data: Content, beside: Beside) -> Mesh:
    """Read all meshes of the scene; see `inspector.formats.gltf.read`."""
    from inspector.formats.gltf.read import read as read_document

    return read_document(data, beside)


def _write(mesh: Mesh) -> bytes:
    from inspector.formats.gltf.write import write

    return write(mesh)


FORMATS = (
    Format("glb", "GLB", (b".glb",), _CARRIES, lambda head, _: head.startswith(b"glTF"), read, _write, leaves=_LEAVES),
    Format(
        "gltf",
        "glTF",
        (b".gltf",),
        _CARRIES,
        lambda head, _: head.lstrip().startswith(b"{") and b'"asset"' in head,
        read,
        alone=False,
    ),
)
