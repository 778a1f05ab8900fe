"""Mesh files: bytes in, frames out, and back."""
