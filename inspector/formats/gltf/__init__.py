"""glTF 2.0: documents read as meshes, and meshes written as GLB. Source: Khronos, glTF 2.0 specification."""
