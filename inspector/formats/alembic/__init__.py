"""Alembic archives (Ogawa container), read and written by this package's own code.

    ogawa      groups and blocks of data in a file archive    objects, properties, and their samples as numbers or text
    times      the times of samples mesh       one mesh object: points, faces, UVs, normals and face sets at a time
    scene      placed meshes: transforms, visibility, instances; frame rate and frames animation  an archive as an
    animation: one mesh per frame writer     an archive of any objects and properties mesh_out   one mesh, frame by
    frame, as an archive

Source of all format rules: the Alembic reference library (BSD licence), read at version 1.8.12 and compared with its
Python binding, which the tests use as an oracle. The format has no written specification.
"""
