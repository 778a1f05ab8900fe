"""From files to facts, and from facts to a series."""
