"""What each lamp of a scene sends out: lamps as emitters with physical output, in linear Rec. 709.

A radiance [cd/m2], intensity [cd] or irradiance [lx] is an RGB triple whose luminance is the photometric number.
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from previz import scene as written
from previz.layout.remembered import remembered
from previz.layout.sizes import LAMP_RADIUS, garland_shape, lamp_in_post, post_scale
from previz.layout.standing import Solid, pieces_of
from previz.physics.colour import LUMINANCE, RGB, white_rgb, with_unit_luminance
from previz.physics.photometry import flux_per_intensity, mean_through_frame, polygon_factor

Array = NDArray[np.float64]

#: Exponent of the cosine lobe of a vehicle's lamp: half its axis intensity 15 degrees off the axis, as a lensed LED.
BEAM_EXPONENT = math.log(0.5) / math.log(math.cos(math.radians(15)))


@dataclass(frozen=True)
class Lamp:
    """A small glowing ball fixed to a piece or the vehicle: a bulb, a headlamp.

    Parameters
    ----------
    centre : (3,) float
        In the frame of what carries it. [m]
    radius : float
        [m]
    flux : float
        Luminous flux into all directions (or into the beam). [lm]
    colour : (3,) float
        Linear Rec. 709 with luminance 1.
    beam : (3,) float or None
        Unit axis of a forward beam; None shines all round.
    """

    centre: tuple[float, float, float]
    radius: float
    flux: float
    colour: tuple[float, float, float]
    beam: tuple[float, float, float] | None = None


# --- colour ---


def light_rgb(colour: written.LightColour) -> Array:
    """Colour of a lamp with its gel, (3,) linear Rec. 709 with luminance 1.

    The gel's colour multiplies the lamp's; its luminance is taken out again, because a lamp's `output` is what
    leaves it, gel and all. Raises ValueError for a black gel.
    """
    rgb = white_rgb(colour.kelvin)
    if colour.gel is None:
        return rgb
    through = rgb * np.asarray(colour.gel)
    if not through.any():
        raise ValueError("a black gel lets no light through; give the lamp's gel a colour")
    return np.array(with_unit_luminance(through))


def lamp_rgb(light: written.LightColour) -> RGB:
    """Colour of a bulb or a window, linear Rec. 709 with luminance 1, gel and all: how bright it is, is said apart."""
    rgb = light_rgb(light)
    red, green, blue = (rgb / max(float(rgb @ LUMINANCE), 1e-9)).tolist()
    return red, green, blue


@remembered
def post_lamps(scene: written.Scene) -> tuple[tuple[str, Lamp], ...]:
    """The lit lamps of the set's posts and garlands, each with its entry's id, where they hang."""
    found = []
    for solid in pieces_of(scene):
        spec = scene.dressing[solid.entry]
        if isinstance(spec, written.LampPost) and spec.lit > 0:
            (place,) = solid.placed(np.array([lamp_in_post(spec, scene.scale_of(spec))]))
            radius = LAMP_RADIUS * post_scale(spec, scene.scale_of(spec))
            found.append((spec.id, Lamp(_triple(place), radius, spec.lit, lamp_rgb(spec.light))))
        if isinstance(spec, written.Garland) and spec.lit > 0:
            found += [(spec.id, lamp) for lamp in _bulbs_of(spec, solid, scene.scale_of(spec))]
    return tuple(found)


def _bulbs_of(spec: written.Garland, solid: Solid, scale: float) -> list[Lamp]:
    """Of one garland, where they hang."""
    shape, colour = garland_shape(spec, scale), lamp_rgb(spec.light)
    share = spec.lit / len(shape.bulbs)
    return [Lamp(_triple(place), shape.radius, share, colour) for place in solid.placed(shape.bulbs)]


# --- emitters ---


@dataclass(frozen=True)
class AreaEmitter:
    """An evenly bright Lambertian rectangle that shines to the side of `normal`.

    Parameters
    ----------
    centre, half_u, half_v : (3,) float
        Middle, and the vectors from it to the middles of two sides; half_u x half_v points along `normal`. [m]
    normal : (3,) float
        Unit.
    radiance : (3,) float
        RGB [cd/m2].
    """

    centre: RGB
    half_u: RGB
    half_v: RGB
    normal: RGB
    radiance: RGB

    @property
    def area(self) -> float:
        """[m2]."""
        return 4.0 * float(np.linalg.norm(self.half_u) * np.linalg.norm(self.half_v))

    @property
    def corners(self) -> Array:
        """(4, 3), counter-clockwise seen from the lit side. [m]"""
        centre, u, v = np.array(self.centre), np.array(self.half_u), np.array(self.half_v)
        return np.stack([centre - u - v, centre + u - v, centre + u + v, centre - u + v])


@dataclass(frozen=True)
class SpotEmitter:
    """A small disc that sends a beam with a soft edge.

    Parameters
    ----------
    centre : (3,) float
        [m]
    axis : (3,) float
        Unit, the way it shines.
    size : float
        Diameter of the disc, which gives shadows their edge. [m]
    angle : float
        Full angle of the beam, at which it has fallen to nothing. [rad]
    intensity : (3,) float
        On the axis, RGB [cd].
    """

    centre: RGB
    axis: RGB
    size: float
    angle: float
    intensity: RGB


@dataclass(frozen=True)
class BulbEmitter:
    """A glowing ball; all round, or with a forward lobe cos^BEAM_EXPONENT about `beam`.

    Parameters
    ----------
    centre : (3,) float
        [m]
    radius : float
        [m]
    intensity : (3,) float
        All round, or on the beam's axis. RGB [cd].
    beam : (3,) float or None
        Unit axis.
    lights_all : bool
        Whether it is there to light the set, and no part of it: then the vehicle's shadow in its light may be long.
    """

    centre: RGB
    radius: float
    intensity: RGB
    beam: RGB | None = None
    lights_all: bool = False


@dataclass(frozen=True)
class Ambient:
    """The same radiance from everywhere above the horizon, none from below.

    A table top in the open gets pi times `radiance` (RGB [cd/m2]); an upright wall half of that.
    """

    radiance: RGB


Emitter = AreaEmitter | SpotEmitter | BulbEmitter | Ambient


@remembered
def emitters_of(scene: written.Scene) -> tuple[Emitter, ...]:
    """All that lights the set: the scene's lights in their order, then the lamps of its posts."""
    studio: list[Emitter] = []
    for light in scene.lights:
        if isinstance(light, written.Panel):
            studio.append(_panel(light))
        elif isinstance(light, written.Spot):
            studio.append(fixture_of(light) if light.diffuser is None else _through_diffuser(light, light.diffuser))
        elif isinstance(light, written.Bulb):
            studio.append(_bulb(light))
        else:
            studio.append(Ambient(_scaled(light_rgb(light.colour), light.ambient / math.pi)))
    return (*studio, *(bulb_of(lamp) for _, lamp in post_lamps(scene)))


def bulb_of(lamp: Lamp) -> BulbEmitter:
    """The emitter of a lamp fixed to a piece or the vehicle: I = flux / 4 pi, or into its beam.

    >>> bulb = bulb_of(Lamp((0, 0, 0.1), 0.001, 4 * math.pi, (1, 1, 1)))
    >>> bulb.intensity
    (1.0, 1.0, 1.0)
    """
    into = 4 * math.pi if lamp.beam is None else 2 * math.pi / (BEAM_EXPONENT + 1)
    return BulbEmitter(lamp.centre, lamp.radius, _scaled(np.array(lamp.colour), lamp.flux / into), lamp.beam)


def rectangle_factor(points: NDArray[Any], normals: NDArray[Any], emitter: AreaEmitter) -> Array:
    """Irradiance at points (n, 3) from an unhidden rectangle of unit radiance: `polygon_factor`. (n,) [lx per cd/m2]"""
    return polygon_factor(emitter.corners, points, normals)


def _panel(light: written.Panel) -> AreaEmitter:
    width, height = light.panel
    axis = unit(np.subtract(light.aim, light.at))
    dark = _rectangle(np.array(light.at), axis, width, height, np.zeros(3))
    output: written.Output = light.output
    if output.flux is not None:
        radiance = output.flux / (math.pi * dark.area)
    else:
        assert output.axis_illuminance is not None and output.axis_distance is not None  # one of the two ways
        before = np.array(light.at) + axis * output.axis_distance
        radiance = output.axis_illuminance / float(rectangle_factor(before[None], -axis[None], dark)[0])
    return _bright(dark, light_rgb(light.colour) * radiance * 2.0**-light.diffusion)


def axis_intensity(light: written.Spot) -> float:
    """Luminous intensity on a spot's axis, after diffusion on the lamp itself. [cd]"""
    output: written.Output = light.output
    lets_through = 2.0**-light.diffusion
    if output.flux is None:
        assert output.axis_illuminance is not None and output.axis_distance is not None  # one of the two ways
        return float(output.axis_illuminance * output.axis_distance**2 * lets_through)
    return float(output.flux / flux_per_intensity(light.spot) * lets_through)


def _through_diffuser(light: written.Spot, diffuser: written.Diffuser) -> AreaEmitter:
    """The diffusion frame as the new source; the part of the beam that misses the frame is lost."""
    axis = unit(np.subtract(light.aim, light.at))
    width, height = diffuser.size
    frame = _rectangle(np.array(light.at) + axis * diffuser.distance, axis, width, height, np.zeros(3))
    on_it = mean_through_frame(diffuser.size, diffuser.distance, light.spot) * axis_intensity(light)
    return _bright(frame, light_rgb(light.colour) * on_it / math.pi * 2.0**-diffuser.loss)


def fixture_of(light: written.Spot) -> SpotEmitter:
    """A spot itself, whatever hangs in front of it."""
    axis = unit(np.subtract(light.aim, light.at))
    on_axis = axis_intensity(light)
    return SpotEmitter(light.at, _triple(axis), light.size, light.spot, _scaled(light_rgb(light.colour), on_axis))


def _bulb(light: written.Bulb) -> BulbEmitter:
    """A bare bulb: I = flux / 4 pi, or what was measured of it at a distance, E d^2."""
    output: written.Output = light.output
    if output.flux is not None:
        intensity = output.flux / (4 * math.pi)
    else:
        assert output.axis_illuminance is not None and output.axis_distance is not None  # one of the two ways
        intensity = output.axis_illuminance * output.axis_distance**2
    rgb = _scaled(light_rgb(light.colour), intensity * 2.0**-light.diffusion)
    return BulbEmitter(light.at, light.bulb / 2, rgb, lights_all=True)


def _rectangle(centre: Array, normal: Array, width: float, height: float, radiance: Array) -> AreaEmitter:
    """A rectangle hung level: its width is horizontal (along x where it looks straight up or down)."""
    level = np.array([-normal[1], normal[0], 0.0])
    across = unit(level) if np.linalg.norm(level) > 1e-6 else np.array([1.0, 0.0, 0.0])
    up = np.cross(normal, across)
    half_u, half_v = across * width / 2, up * height / 2
    return AreaEmitter(_triple(centre), _triple(half_u), _triple(half_v), _triple(normal), _triple(radiance))


def _bright(dark: AreaEmitter, radiance: Array) -> AreaEmitter:
    return AreaEmitter(dark.centre, dark.half_u, dark.half_v, dark.normal, _triple(radiance))


def unit(vector: ArrayLike) -> Array:
    """The same way, 1 long. (3,)"""
    array = np.asarray(vector, dtype=float)
    return np.asarray(array / np.linalg.norm(array))


def _triple(vector: Array) -> RGB:
    x, y, z = (float(part) for part in vector)
    return x, y, z


def _scaled(rgb: Array, factor: float) -> RGB:
    return _triple(rgb * factor)
