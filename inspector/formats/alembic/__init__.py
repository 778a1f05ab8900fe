"""Alembic archives (Ogawa container), read and written by this package's own code.

Source of all format rules: the Alembic reference library (BSD licence), version 1.8.12. The format has no written
specification. The tests compare this code with the library's Python binding.
"""
