"""Cameras or settings side by side: panels, film, sheet, numbers and page."""
