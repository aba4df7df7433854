"""Where on the lens and when in the shutter to look, how often, and how evenly."""
