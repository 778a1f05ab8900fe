"""The fixes, one module per fix. The subpackage `base` contains the code that the fixes share."""
