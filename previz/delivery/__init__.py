"""Everything that leaves for `outputs/<scene>/`."""
