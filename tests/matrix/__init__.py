"""Defects are planted into healthy bodies. The right check must report each defect, and nothing else may be
reported."""
