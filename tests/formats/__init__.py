"""Tests of the readers, compared with documents, with libraries, and with observations in public files."""
