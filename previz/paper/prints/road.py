"""The road surface at life size and in colour, to be cut out and laid on the table."""

import shapely

from previz.layout import road_colour
from previz.paper.plan.labels import Label
from previz.paper.prints.parts import Part, ink_of, label_of
from previz.paper.sheet import BLACK, DASHED, THIN, View
from previz.paper.surface import rings_of, road_surface
from previz.scene import Scene

_EDGES = " Dashed: where kerb strips and pavements are glued beside it."


def road_print(scene: Scene) -> Part | None:
    """The part; None where there is no road on the table."""
    surface, road = road_surface(scene), scene.set.road
    if surface is None or road is None:
        return None
    carriageway, lines = surface.carriageway, surface.lines
    shapely.prepare(carriageway)

    def draw(view: View) -> None:
        view.area(carriageway, ink_of(road_colour(road)))
        for line in lines:
            view.area(line, ink_of(road.paint))
        for ring in rings_of(carriageway):
            view.line(ring, THIN, ink=BLACK, closed=True)
        # A strip of card or wood along each kerb, a board behind it: where they lie, not what they look like.
        for edge in (*surface.kerbs, *surface.pavements):
            for ring in rings_of(edge):
                view.line(ring, THIN, ink=BLACK, dashes=DASHED, closed=True)

    def labels(view: View) -> list[Label]:
        named = [("kerb", shape) for shape in surface.kerbs] + [("pavement", shape) for shape in surface.pavements]
        found = [label_of(view, (word,), shape, bold=False) for word, shape in named]
        return [label for label in found if label is not None]

    whole = shapely.union_all([carriageway, *surface.kerbs, *surface.pavements])
    return Part(
        "road", "Road surface",
        "Join the pages, cut along the road's outline, and lay it on the ground. Places are measured from the table's "
        "front left corner." + _EDGES * bool(surface.kerbs),
        whole, whole, draw, labels,
    )  # fmt: skip
