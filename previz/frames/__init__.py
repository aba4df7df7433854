"""Looking through points of the pupil at moments of the shutter, and recording the mean."""
