"""Where every texel of the ground lies against a line on the table."""

import numpy as np

from previz.physics.noise import Canvas, Field, field_through
from previz.physics.paths import Curve, along_curve

_GRID = 0.008  # where distances to the curve are worked out [m]


def fields_along(curve: Curve, canvas: Canvas) -> tuple[Field, Field, Field]:
    """Distance left of the curve, along it and away from it, for every texel of the ground."""
    width, depth = canvas.width * canvas.texel, canvas.height * canvas.texel
    step = max(_GRID, 4 * canvas.texel)
    columns, lines = int(width / step) + 4, int(depth / step) + 4
    x, y = (np.arange(columns) - 1) * step, depth - (np.arange(lines) - 1) * step
    points = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    found = along_curve(curve, points)
    x_places = 1 + (np.arange(canvas.width) + 0.5) * canvas.texel / step
    y_places = 1 + (np.arange(canvas.height) + 0.5) * canvas.texel / step
    left, along, away = (
        field_through(grid.reshape(lines, columns), x_places, y_places)
        for grid in (found.left, found.along, found.away)
    )
    return left, along, away
