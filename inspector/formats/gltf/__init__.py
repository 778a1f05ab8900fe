"""glTF 2.0: documents are read as meshes, and meshes are written as GLB. Source: Khronos, glTF 2.0 specification."""
