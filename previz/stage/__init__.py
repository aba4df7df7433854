"""Triangles, lamps and baked light: the set as a camera meets it."""
