"""OpenUSD through usd-core (the extra `usd`): stages read as meshes, and meshes written as a stage."""
