"""The cut: shots kept as filmed, joined into one clip, and the lists, pictures and page that go with it."""
