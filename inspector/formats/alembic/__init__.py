"""Alembic archives (Ogawa container), read and written by this package's own code.

- ogawa: the container, groups and blocks of data in a file
- archive: objects, properties, and their samples as numbers or text
- times: the times of samples
- mesh: one mesh object, its points, faces, UVs, normals and face sets at a given time
- scene: the meshes in the world, with transforms, visibility and instances; the frame rate and the frames
- animation: an archive as an animation, one mesh per frame
- writer: writing an archive of any objects and properties
- mesh_out: writing one mesh, frame by frame, as an archive

Source of all format rules: the Alembic reference library (BSD licence), read at version 1.8.12. The tests compare this
code with the library's Python binding. The format has no written specification.
"""
