"""Defects planted into healthy bodies, each to be answered by the right cause and nothing else."""
