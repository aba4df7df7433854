"""The files that a scene names, opened before any work: what cannot be read is told by the line that names it."""

from typing import Any

from previz.errors import FileFault, PrevizError
from previz.files import load_image
from previz.layout.motion import travel_of
from previz.layout.others import others_of, said_of
from previz.layout.remembered import remembered
from previz.layout.sizes import SOLID
from previz.layout.standing import pieces_of
from previz.layout.vehicle import vehicle_bands
from previz.scene import Card, Scene


@remembered
def open_files(scene: Scene) -> None:
    """Read every mesh and image that the scene names.

    Raises
    ------
    FileFault
        For the first that cannot be used.
    """
    if scene.vehicle is not None:
        vehicle_bands(scene)
    for name, other in others_of(scene):
        with said_of(name):
            vehicle_bands(other)
            travel_of(other)
    pieces_of(scene)
    named: list[tuple[tuple[str | int, ...], Any]] = [(("set", "ground", "image"), scene.set.ground.image)]
    if scene.set.backdrop is not None:
        named.append((("set", "backdrop", "image"), scene.set.backdrop.image))
    for number, piece in enumerate(scene.dressing):
        if isinstance(piece, Card):
            named.append((("dressing", number, "image"), piece.image))
    for steps, name in named:
        if name is not None:
            try:
                image = load_image(scene.folder / name)
                if steps[0] == "dressing" and image.shape[2] == 4 and image[..., 3].max() <= SOLID:
                    raise PrevizError(
                        f"{name}: all of it is clear, and a card is cut out of what is solid; save it with what is to "
                        "be seen on it solid"
                    )
            except PrevizError as error:
                raise FileFault(steps, str(error)) from None
