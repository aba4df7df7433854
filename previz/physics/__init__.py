"""Pure functions on numbers: floats and arrays in, floats and arrays out. No scene is known here; import by module."""
