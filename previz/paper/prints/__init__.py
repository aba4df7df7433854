"""Prints at life size: parts of the set, cut into tiles that a printer prints, or each on one large sheet."""
