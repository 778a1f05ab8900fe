"""Measuring many frames: workers, cluster, cache and storage."""
