"""Delivery rules: the requirements of the receiving side, as stated in a TOML file."""
