"""OpenUSD, read and written with usd-core (the extra `usd`)."""
