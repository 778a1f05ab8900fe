"""Alembic archives (Ogawa container), read and written by this package's own code.

- ogawa: the container, which consists of groups and blocks of data
- archive: objects and properties, with samples as numbers or text
- times: the times of samples
- mesh: the points, faces, UVs, normals, colours and face sets of one mesh object at a given time
- scene: the meshes placed in the world, with transforms, visibility and instances; the frames and the frame rate
- animation: an archive as an animation, with one mesh per frame
- writer: writing an archive of any objects and properties
- mesh_out: writing the frames of one mesh as an archive

Source of all format rules: the Alembic reference library (BSD licence), version 1.8.12. The format has no written
specification. The tests compare this code with the library's Python binding.
"""
