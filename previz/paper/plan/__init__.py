"""The plan of a scene: what a maker hangs beside the table, one module a sheet. `sheets.py` puts them together."""
