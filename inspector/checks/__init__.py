"""The checks, in one folder per group.

Each module of a group defines one check, or a table of similar checks. The code that checks share is in base/.
"""
