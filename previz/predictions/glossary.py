"""The one list of what is predicted: each quantity's name, its words, its SI unit and the unit people read it in.

Names in code, in JSON and in findings are the keys here; a figure or finding that names anything else is refused.
"""

from dataclasses import dataclass, replace

from previz.units import LENGTH, SPEED, Tape


@dataclass(frozen=True)
class Quantity:
    """One entry of the glossary.

    Parameters
    ----------
    group : str
        Heading of the table it belongs under.
    label : str
        In the words of the trade.
    unit : str
        SI, as the value is kept; "" for a number or share.
    shown : str
        Unit for people.
    factor : float
        From the SI unit to the shown one.
    digits : int
        Significant digits worth showing.
    tape : bool
        Whether it is measured on the set, and so shown in the unit of the maker's tape: `shown` is that of a metric
        one in millimetres.
    estimate : bool
        Whether whole numbers have digits too many as well: light goes by plain shapes of what stands on the set.
    marked : bool
        Whether it is an ISO, told as a camera has it: in third stops.
    as_scale : bool
        Whether it is a share of full size, told as a model's scale is: 1:50 of 0.02.
    means : str
        What it is, where the label does not say all: the trade's word for it, and what it is good for.
    """

    group: str
    label: str
    unit: str = ""
    shown: str = ""
    factor: float = 1.0
    digits: int = 3
    tape: bool = False
    means: str = ""
    estimate: bool = False
    marked: bool = False
    as_scale: bool = False

    def on(self, tape: str) -> "Quantity":
        """As shown to one whose tape is in mm, cm, in or ft; what a metric tape shows in metres it does for cm too.

        In columns a tape in feet is read in inches.

        >>> GLOSSARY["near_limit"].on("in").shown, GLOSSARY["path_length"].on("cm").shown
        ('in', 'm')
        >>> GLOSSARY["set_speed"].on("in").shown, GLOSSARY["set_speed"].on("cm").shown
        ('in/s', 'm/s')
        >>> GLOSSARY["eye_height"].on("in").shown, GLOSSARY["eye_height"].on("cm").shown
        ('ft', 'm')
        """
        tape = Tape(tape).column
        if self.shown == "m/s" and tape == "in":
            return replace(self, shown="in/s", factor=1 / SPEED.factors["in/s"])
        if self.shown == "km/h" and tape == "in":
            return replace(self, shown="mph", factor=1 / SPEED.factors["mph"])
        if self.shown == "m" and not self.tape:  # of the real thing
            shown = Tape(tape).real_unit
            return replace(self, shown=shown, factor=1 / LENGTH.factors[shown])
        if not self.tape or tape == "mm" or (tape == "cm" and self.shown == "m"):
            return self
        return replace(self, shown=tape, factor=1 / LENGTH.factors[tape], digits=4 if tape == "in" else 3)


def _length(group: str, label: str, shown: str = "mm", *, tape: bool = False, means: str = "") -> Quantity:
    factor = {"mm": 1e3, "um": 1e6, "m": 1.0}[shown]
    return Quantity(group, label, "m", shown, factor, 3, tape, means)


def _tape(group: str, label: str, shown: str = "mm", means: str = "") -> Quantity:
    """A length that is measured on the set."""
    return _length(group, label, shown, tape=True, means=means)


def _share(group: str, label: str, means: str = "") -> Quantity:
    return Quantity(group, label, "", "%", 100.0, means=means)


def _angle(group: str, label: str) -> Quantity:
    return Quantity(group, label, "rad", "deg", 57.29577951308232)


def _speed(group: str, label: str) -> Quantity:
    return Quantity(group, label, "m/s", "m/s")


def _time(group: str, label: str) -> Quantity:
    return Quantity(group, label, "s", "s")


def _pixels(group: str, label: str) -> Quantity:
    return Quantity(group, label, "px", "px")


_FOCUS, _SCALE, _TIME, _LAUNCH, _LIGHT = "Focus", "Apparent scale", "Time", "Launch", "Light"
_FRAMING, _SIZES, _SET, _BETWEEN = "Framing", "Sizes at full scale", "On the set", "Between the shots"

GLOSSARY: dict[str, Quantity] = {
    # --- focus ---
    "focal_length": _length(_FOCUS, "focal length"),
    "equivalent_focal_length": _length(
        _FOCUS, "equivalent focal length", means="on full frame, for the same angle from corner to corner of the sensor"
    ),
    "f_number": Quantity(_FOCUS, "f-number"),
    "focus_distance": _tape(
        _FOCUS,
        "focus, from the middle of the lens",
        means="from where the lens sees, its opening as it looks from in front: taken in the middle of the lens; of a "
        "phone, its glass. Mid-shot, where focus goes",
    ),
    "focus_from_sensor": _tape(
        _FOCUS,
        "focus, from the sensor",
        means="where a tape is held: many cameras mark the sensor with a line through a circle; of a phone, its back",
    ),
    "focus_at": _tape(_FOCUS, "focus then, from the middle of the lens"),
    "focus_mark": _tape(_FOCUS, "focus then, from the sensor"),
    "magnification": Quantity(
        _FOCUS,
        "size on the sensor over size on the set",
        means="magnification, of what is in focus",
    ),
    "working_f_number": Quantity(
        _FOCUS,
        "f-number in effect, focused so close",
        means="working f-number: a lens focused close lets less light in than its f-number says",
    ),
    "blur_limit": _length(_FOCUS, "blur that still counts as sharp", "um"),
    "near_limit": _tape(_FOCUS, "sharp from"),
    "far_limit": _tape(_FOCUS, "sharp to"),
    "depth_of_field": _tape(_FOCUS, "depth of field"),
    "hyperfocal_distance": _tape(
        _FOCUS,
        "focus from which on the horizon is sharp",
        means="hyperfocal distance; half of it is then the nearest that is sharp",
    ),
    "vehicle_sharp_share": _share(_FOCUS, "frames with the whole vehicle sharp"),
    "vehicle_part_sharp_share": _share(_FOCUS, "frames with some of the vehicle sharp"),
    "first_sharp_frame": Quantity(_FOCUS, "first frame with the whole vehicle sharp"),
    "last_sharp_frame": Quantity(_FOCUS, "last frame with the whole vehicle sharp"),
    "blur_pixels": _pixels(_FOCUS, "blur"),
    "diffraction_disc": _length(
        _FOCUS,
        "blur by diffraction, on the sensor",
        "um",
        means="a small stop spreads every point of light; the even disc that blurs as much",
    ),
    "pixel_pitch": _length(_FOCUS, "one pixel on the sensor", "um"),
    "total_blur": _length(
        _FOCUS,
        "blur of the vehicle in all, on the sensor",
        "um",
        means="out of focus, diffraction and one pixel together, in the worst frame",
    ),
    "least_blur": _length(
        _FOCUS,
        "blur of the sharpest of the vehicle, on the sensor",
        "um",
        means="out of focus and diffraction together, in the frame in which it is least",
    ),
    "best_f_number": Quantity(
        _FOCUS,
        "sharpest stop for this run",
        means="the vehicle's worst frame blurs least at it, of the stops at which any of it is sharp",
    ),
    "aim_distance": _tape(_FOCUS, "middle of the lens to what it is aimed at"),
    "off_middle": _angle(_FOCUS, "vehicle off the picture's middle, at its nearest"),
    "working_distance": _tape(_FOCUS, "front rim of the lens to nearest part of vehicle"),
    "usual_body_inside": _tape(_FOCUS, "of a usual camera body, inside"),
    "camera_clearance": _tape(_FRAMING, "room round body and lens of the camera"),
    "body_clearance": _tape(_FOCUS, "room under the camera"),
    # --- apparent scale ---
    "entrance_pupil": _length(
        _SCALE,
        "opening of the lens, across",
        means="entrance pupil: focal length over f-number; what gives blur its size",
    ),
    "full_size_pupil": _tape(
        _SCALE,
        "full-size camera with this blur: opening of its lens",
        means="a model at 1:S is blurred as the real thing would be by an opening S times as wide",
    ),
    "full_size_focal_length": _length(_SCALE, "full-size camera with this blur: focal length on full frame"),
    "full_size_f_number": Quantity(
        _SCALE,
        "full-size camera with this blur: f-number",
        means="no lens is made under about 0.7; the smaller this is, the more the shot looks like a model",
    ),
    "implied_share": Quantity(
        _SCALE,
        "scale of a model that looks so blurred to the naked eye",
        as_scale=True,
        means="by an eye's usual pupil; smaller and larger, by one a standard deviation off",
    ),
    "f_number_for_full_size": Quantity(_SCALE, "stop that reads as full size"),
    "sensor_for_full_size": _length(_SCALE, "or a sensor this wide, same stop and framing"),
    "distance_for_full_size": _tape(_SCALE, "or this distance, same stop and framing"),
    "eye_height": _length(_SCALE, "camera height at full scale", "m"),
    "looks_off": _length(
        _SCALE,
        "looks as far off at full size",
        "m",
        means="of a thing of another scale than the set: where one of the set's would look as large",
    ),
    "foot_off": _share(_SCALE, "foot where its size does not have it, of the picture's height"),
    "covers_nearer": Quantity(_SCALE, "covers what its size has before it, times as near"),
    "blur_off": Quantity(_SCALE, "blur differs from that of where it looks to be, times"),
    "passes_off": _share(_SCALE, "moves otherwise than from where it looks to be, of the picture's width"),
    # --- time ---
    "frames": Quantity(_TIME, "frames", digits=6),
    "time_on_set": _time(_TIME, "time on set"),
    "time_on_screen": _time(_TIME, "time on screen"),
    "shot_start": _time(_TIME, "shot begins, time on set"),
    "shot_end": _time(_TIME, "shot ends, time on set"),
    "slowdown": Quantity(_TIME, "slowed down"),
    "gravity_slowdown": Quantity(_TIME, "slowing that makes falls look full size"),
    "gravity_ratio": Quantity(_TIME, "slowed, over what falls want"),
    "set_speed": _speed(_TIME, "speed on set, mid-picture"),
    "apparent_speed": Quantity(_TIME, "speed at full scale on screen, mid-picture", "m/s", "km/h", 3.6),
    "apparent_speed_first": Quantity(_TIME, "speed at full scale on screen, first in the picture", "m/s", "km/h", 3.6),
    "apparent_speed_last": Quantity(_TIME, "speed at full scale on screen, last in the picture", "m/s", "km/h", 3.6),
    "vehicle_blur_pixels": _pixels(_TIME, "motion blur of the vehicle"),
    "vehicle_blur_share": _share(_TIME, "motion blur, of the vehicle's length"),
    "background_blur_pixels": _pixels(_TIME, "motion blur of the background"),
    "strobe_gap": _share(_TIME, "gap between frames, of the vehicle's length"),
    "crossing_time": _time(_TIME, "background crosses the picture, on screen, in"),
    "pan_rate": Quantity(_TIME, "fastest pan", "rad/s", "deg/s", 57.29577951308232),
    "wheel_turn": Quantity(_TIME, "wheel turn a frame", "turn", "turn"),
    "read_out_lean": _angle(_TIME, "lean by the rolling shutter"),
    "wobble": _pixels(_TIME, "tremor of the hand, side to side (order of magnitude)"),
    "wobble_rate": Quantity(_TIME, "tremor on screen", "1/s", "a second"),
    "key_time": _time(_TIME, "last key, time on set"),
    "capture_rate": Quantity(_TIME, "frames a second, as recorded", "1/s", "fps"),
    # --- launch ---
    "ramp_height": _tape(_LAUNCH, "release height"),
    "exit_speed": _speed(_LAUNCH, "speed off the ramp, behind its foot"),
    "foot_loss": _share(_LAUNCH, "speed that the foot takes"),
    "height_for_one_percent": _tape(_LAUNCH, "height for 1 % of speed"),
    "speed_deviation": _share(_LAUNCH, "spread of speed from take to take"),
    "takes_within": _share(_LAUNCH, "takes within 5 % of the speed"),
    "coasting_distance": _tape(_LAUNCH, "rolls on the flat for", "m"),
    "slope": _angle(_LAUNCH, "slope"),
    "foot_radius": _tape(_LAUNCH, "radius of the foot"),
    "foot_load": Quantity(
        _LAUNCH,
        "weight on its wheels in the ramp's bend, times at rest",
        means="load in the foot; past about three times a model's axles hop",
    ),
    "lip": _tape(_LAUNCH, "lip"),
    "lip_full_size": _tape(_LAUNCH, "lip at full scale"),
    "flight_time": _time(_LAUNCH, "in the air off the lip, on set"),
    "landing_distance": _tape(_LAUNCH, "lands after"),
    "impact_speed": _speed(_LAUNCH, "lands with, downwards"),
    "rolling": Quantity(
        _LAUNCH,
        "rolling resistance coefficient",
        means="drag over weight; the slope, as a share, on which it just keeps rolling",
    ),
    "rolling_deviation": Quantity(_LAUNCH, "standard error of the rolling resistance"),
    "wheel_share": Quantity(
        _LAUNCH,
        "mass that turning wheels add, as a share",
        means="wheels' share of inertia: what must be set turning takes of the speed",
    ),
    "run_scatter": _share(_LAUNCH, "scatter of the timed runs about the fit"),
    "height_for_speed": _tape(_LAUNCH, "release height for"),
    "run_up": _tape(_LAUNCH, "room for a ramp out of the picture, behind it"),
    "thread_frames": _share(_LAUNCH, "frames with the thread that pulls the vehicle in them"),
    "thread_shown": _tape(_LAUNCH, "thread in the picture, most in a frame", means="along the vehicle's way before it"),
    "ramp_footprint": _tape(_LAUNCH, "the ramp takes up, on the table"),
    "ramp_width": _tape(_LAUNCH, "width of the ramp"),
    "ramp_over_edge": _tape(_LAUNCH, "ramp over the table's edge"),
    # --- light ---
    "metered_at": _time(_LIGHT, "light metered where more of the vehicle is in the picture, time on set"),
    "illuminance_vehicle": Quantity(
        _LIGHT,
        "light on the vehicle, where the camera sees it",
        "lx",
        "lx",
        digits=2,
        estimate=True,
        means="mean over the part that is seen mid-shot, or when the vehicle is in the picture nearest to that",
    ),
    "illuminance_road": Quantity(_LIGHT, "light on the ground beside the vehicle", "lx", "lx", digits=2, estimate=True),
    "illuminance_backdrop": Quantity(_LIGHT, "light on the backdrop", "lx", "lx", digits=2, estimate=True),
    "lamp_share": _share(_LIGHT, "share of a lamp's light that gets to where the camera sees the vehicle"),
    "headlamp_glare": Quantity(
        _LIGHT, "white round a headlamp, of the vehicle's width", shown="%", factor=100.0, digits=2
    ),
    "backdrop_shaded": _share(_LIGHT, "of the backdrop in the picture, in the shadow of pieces"),
    "beam_edge": Quantity(_LIGHT, "backdrop past the edge of a beam under that within it", "stops", "stops", digits=2),
    "backdrop_falloff": Quantity(_LIGHT, "backdrop's least lit part under its best lit", "stops", "stops", digits=2),
    "backdrop_stops": Quantity(_LIGHT, "backdrop against the vehicle", "stops", "stops", digits=2),
    "lighting_ratio": Quantity(
        _LIGHT,
        "lit side over shadow side",
        means="lighting ratio: key and fill, over fill",
    ),
    "light_off_white": Quantity(
        _LIGHT,
        "light on the vehicle against white balance",
        "1/K",
        "mired",
        1e6,
        2,
        means="a million over the light's kelvin, less that of the white balance; above 0 the picture turns out warm",
    ),
    "iso_needed": Quantity(_LIGHT, "ISO for mid-grey, about", marked=True),
    "exposure_error": Quantity(_LIGHT, "over (+) or under (-)", "stops", "stops", digits=2),
    "exposure_set": Quantity(_LIGHT, "exposure set against the meter", "stops", "stops", digits=2),
    "burnt_share": _share(_LIGHT, "picture that is burnt out to white, mid-shot"),
    "exposure_value": Quantity(
        _LIGHT,
        "exposure value of stop and shutter",
        "",
        "EV",
        means="one more lets half the light in; 0 is f/1 for a second",
    ),
    "exposure_time": Quantity(_LIGHT, "exposure time", "s", "ms", 1e3),
    "ripple": _share(_LIGHT, "ripple by mains lamps, from frame to frame"),
    "bands": _share(_LIGHT, "bands by mains lamps, across a frame"),
    # --- framing ---
    "angle_of_view": _angle(_FRAMING, "angle of view"),
    "view_width": _tape(_FRAMING, "width of view at the vehicle"),
    "off_set_pixels": Quantity(_FRAMING, "pixels that see past the set, worst frame", "px", "px", digits=1),
    "off_set_share": _share(_FRAMING, "picture that sees past the set, worst frame"),
    "backdrop_width_needed": _tape(_FRAMING, "backdrop width that covers"),
    "backdrop_height_needed": _tape(_FRAMING, "backdrop height that covers"),
    "sheets": Quantity(_FRAMING, "sheets that cover it", digits=6),
    "join_length": _tape(_FRAMING, "join in view"),
    "join_blur": _share(_FRAMING, "blur of the join, of the picture's width"),
    "vehicle_width": _share(_FRAMING, "vehicle's width, of the picture's"),
    "cut_share": _share(_FRAMING, "vehicle's height cut off by the picture's upper or lower edge, on average"),
    "head_room": _share(_FRAMING, "head room, of the picture's height"),
    "lead_room": Quantity(
        _FRAMING,
        "room ahead of the vehicle, times that behind it",
        means="lead room",
    ),
    "vehicle_frames": _share(_FRAMING, "frames with the vehicle in them"),
    "enters_at": _time(_FRAMING, "vehicle in the picture from, time on set"),
    "enters_frame": Quantity(_FRAMING, "vehicle in the picture from frame", digits=6),
    "leaves_at": _time(_FRAMING, "vehicle in the picture until, time on set"),
    "leaves_frame": Quantity(_FRAMING, "vehicle in the picture until frame", digits=6),
    "time_in_frame": _time(_FRAMING, "vehicle in the picture, on screen"),
    "action_safe": _share(
        _FRAMING,
        "frames with the vehicle action safe",
        means="wholly inside the part of the picture that no screen cuts off",
    ),
    "ramp_share": _share(_FRAMING, "picture that the ramp takes up, worst frame"),
    "gear_frames": _share(_FRAMING, "frames with a lamp, stand or card for light in them"),
    "gear_share": _share(_FRAMING, "picture that a lamp, stand or card for light takes up, worst frame"),
    "hidden_share": _share(_FRAMING, "vehicle hidden, worst frame"),
    "hidden_by": _share(_FRAMING, "frames in which another vehicle hides half of the vehicle or more"),
    # --- on the set ---
    "path_length": _tape(_SET, "path of the vehicle", "m"),
    "run_time": _time(_SET, "time for it, on set"),
    "path_clearance": _tape(_SET, "vehicle's side to the nearest piece"),
    "edge_clearance": _tape(_SET, "vehicle to the table's edge, worst frame"),
    "backdrop_clearance": _tape(_SET, "vehicle to the backdrop, worst frame"),
    "pupil_height": _tape(_SET, "middle of the lens over the table"),
    "pupil_to_backdrop": _tape(_SET, "middle of the lens to the backdrop"),
    "pupil_clearance": _tape(_SET, "middle of the lens to the nearest piece or vehicle"),
    "over_edge": _tape(_SET, "piece over the table's edge"),
    "through_backdrop": _tape(_SET, "piece or ramp through the backdrop"),
    "table_side": _tape(_SET, "side of the table", "m"),
    "vehicles_room": _tape(_SET, "room between two vehicles, over their mirrors"),
    "overlap": _tape(_SET, "piece in another, in the ramp, in a kerb or on a lane"),
    "kerb_room": _tape(_SET, "wheels to the kerb"),
    "puddles": Quantity(_SET, "puddles"),
    "softness": Quantity(_SET, "how soft the ground is under the wheels, 0 to 1"),
    # --- sizes ---
    "road_lane": _length(_SIZES, "lane", "m"),
    "kerb_height": _length(_SIZES, "kerb's height", "m"),
    "pavement_width": _length(_SIZES, "pavement's width", "m"),
    "vehicle_length": _length(_SIZES, "vehicle's length", "m"),
    "headlamp_height": _tape(_SIZES, "headlamps of the mesh, taken to be in its front, above the ground"),
    "headlamps_apart": _tape(_SIZES, "headlamps of the mesh, from middle to middle"),
    "coupling_angle": _angle(_SIZES, "a real one's bend at its coupling, where its way bends most"),
    "piece_height": _length(_SIZES, "height", "m"),
    "piece_length": _length(_SIZES, "length", "m"),
    # --- between two shots that are cut to each other ---
    "over_line": _angle(_BETWEEN, "camera past the line that the vehicle drives along"),
    "angle_between": _angle(_BETWEEN, "from where one camera sees the vehicle to where the next does"),
    "size_ratio": Quantity(_BETWEEN, "size of the vehicle, times that in the other shot"),
    "speed_ratio": Quantity(_BETWEEN, "speed on screen, times that in the other shot"),
    "height_ratio": Quantity(_BETWEEN, "camera height, times that in the other shot"),
    "light_turned": _angle(_BETWEEN, "light comes from elsewhere by"),
    "light_colour": Quantity(_BETWEEN, "colour of the light differs by, u'v'", means="distance on the CIE 1976 chart"),
    "pupil_ratio": Quantity(_BETWEEN, "opening of the lens at full size, times that in the other shot"),
    "slowdown_ratio": Quantity(_BETWEEN, "slowed down, times that in the other shot"),
    "shutter_ratio": Quantity(_BETWEEN, "share of a frame that is exposed, times that in the other shot"),
    "playback_rate": Quantity(_BETWEEN, "frames a second, on screen", "1/s", "fps"),
    "picture_shape": Quantity(_BETWEEN, "width of the picture over its height"),
    "same_share": _share(_BETWEEN, "overlap of one thing in both pictures"),
}
