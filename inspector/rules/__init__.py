"""Delivery rules: what the receiving side needs, as a TOML file states it."""
