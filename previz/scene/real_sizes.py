"""Full-size dimensions the defaults are drawn from, so that a piece named without a size is right at any scale.

Sources are beside the numbers; "typical, from memory" marks values nobody has looked up, and the scale check
(`predictions`) compares with published ones only.
"""

#: Full-size length, width without mirrors, height over all [m] of each vehicle body, as `stage` builds it: the height
#: counts a deflector or what is on a roof. Typical, from memory; of a car as `tests/predictions` quotes it; of an
#: articulated lorry the most that Council Directive 96/53/EC, annex I, allows (from memory).
VEHICLE_SIZES: dict[str, tuple[float, float, float]] = {
    "lorry": (8.0, 2.5, 3.46),
    "articulated_lorry": (16.5, 2.55, 4.0),
    "van": (5.5, 2.0, 2.43),
    "bus": (11.5, 2.5, 3.40),
    "saloon": (4.8, 1.8, 1.50),
    "tractor": (4.4, 2.1, 2.82),
    "pickup": (5.6, 1.95, 1.87),
    "school_bus": (10.6, 2.4, 3.18),
}

#: Width [m] over all of each body, and the height [m] from which on something stands out that far: its mirrors, a
#: tractor's mudguards. Typical, from memory.
OVER_ALL: dict[str, tuple[float, float]] = {
    "lorry": (2.95, 1.7),
    "articulated_lorry": (3.06, 1.7),
    "van": (2.39, 1.3),
    "bus": (3.02, 1.9),
    "saloon": (2.19, 0.9),
    "tractor": (2.19, 1.1),
    "pickup": (2.35, 1.1),
    "school_bus": (2.89, 1.8),
}

#: Wheelbase, front overhang and ground clearance under the bumper [m] of each body; one with more axles stands on its
#: first and its last. Typical, from memory.
UNDERSIDES: dict[str, tuple[float, float, float]] = {
    "lorry": (5.1, 1.15, 0.30),
    "articulated_lorry": (12.29, 1.22, 0.30),
    "van": (3.3, 1.0, 0.20),
    "bus": (5.8, 2.8, 0.28),
    "saloon": (2.8, 0.95, 0.17),
    "tractor": (2.4, 0.90, 0.60),
    "pickup": (3.5, 1.02, 0.34),
    "school_bus": (6.41, 1.47, 0.50),
}

#: Wheel diameter [m] of each body. Typical, from memory.
WHEEL_DIAMETERS: dict[str, float] = {
    "lorry": 0.96,
    "articulated_lorry": 1.0,
    "van": 0.72,
    "bus": 1.0,
    "saloon": 0.66,
    "tractor": 1.65,
    "pickup": 0.78,
    "school_bus": 0.95,
}

#: Headlamps [m] of a vehicle that is a mesh file: the middle of each above the ground, how far in from the vehicle's
#: side, radius of its lens. Typical, as the bodies have them; UN Regulation 48, 6.2.4, has dipped beams 0.5 to 1.2 m up
#: and their outer edge at most 0.4 m in (from memory).
HEADLAMP_HEIGHT, HEADLAMP_INSET, HEADLAMP_RADIUS = 0.75, 0.40, 0.075

#: Series 1 freight container, 20 ft: 6.058 x 2.438 x 2.591 m (ISO 668 as commonly quoted, from memory).
CONTAINER_SIZE = (6.058, 2.438, 2.591)

#: Full-size height [m] of a piece whose height is not given; typical, from memory, unless said.
PIECE_HEIGHTS: dict[str, float] = {
    "lamp_post": 8.0,
    "conifer": 12.0,
    "broadleaf": 10.0,
    "bush": 1.5,
    "hedge": 1.4,
    "stone": 1.0,  # its length: a stone is given by its size
    "sign": 2.8,
    "cone": 0.71,  # 28 in: MUTCD sec. 6F.64, seen
    "wall": 1.0,
}

#: Light of a street lamp [lm]: lanterns along a street of houses to those along a main road give some 3000 to 12000.
#: Common practice, no source.
STREET_LIGHT = 6000.0

#: Full-size height [m] of a fence by its style. A guard rail's 31 in: engineering notes on the AASHTO Roadside Design
#: Guide 2011, as quoted; the others typical, from memory.
FENCE_HEIGHTS: dict[str, float] = {"rails": 1.2, "pickets": 1.2, "guard_rail": 0.787}

#: Full size [m] of what else a piece leaves out: the arm of a lamp post, how thick walls and hedges are, a building's
#: width, depth and height from floor to floor. Typical, from memory.
LAMP_ARM, WALL_THICKNESS, HEDGE_THICKNESS = 1.6, 0.3, 0.8
BUILDING_WIDTH, BUILDING_DEPTH, FLOOR_HEIGHT = 9.0, 5.0, 3.2

#: Full size [m] of a bulb of a garland, across: a golf ball lamp, G45. Typical, from memory.
GARLAND_BULB = 0.045

#: Light of such a bulb [lm]: of 1 W with LEDs, or of 15 W with a filament. Common practice, no source.
GARLAND_LIGHT = 100.0

#: How many floors a building has where nothing tells, and at most. Common practice, no source.
USUAL_FLOORS, MOST_FLOORS = 3, 40

#: Full size [m] of a kerb: how far it stands out of the road, how wide its stone is and how long one is. 125 mm is what
#: British streets have, and stones of 125 x 255 x 915 mm (BS 7263-3; from memory, not seen). US barrier kerbs are 6 in
#: (152 mm), from memory; the US Army's SDDC-TEA curb tutorial has at most 4 in (102 mm) on fast roads, seen.
KERB_HEIGHT, KERB_WIDTH, KERB_STONE = 0.125, 0.125, 0.915

#: Full size [m] of a pavement: its width over all, 2 m as the least for streets in Manual for Streets (UK Department
#: for Transport, 2007, section 6.3; from memory), and the side of its slabs, 600 mm (BS 7263-1; from memory).
PAVEMENT_WIDTH, PAVEMENT_SLAB = 2.0, 0.6

#: Full-size size across [m] of the smallest and largest puddle that a scene leaves out. Typical, from memory.
PUDDLE_SIZES = (0.6, 3.0)

#: Full-size width of the tyres and of the track, from middle to middle of the wheels on an axle [m], of each body: what
#: a vehicle leaves in soft ground. Typical, from memory.
TYRES: dict[str, tuple[float, float]] = {
    "lorry": (0.30, 2.05),
    "articulated_lorry": (0.34, 2.14),
    "van": (0.22, 1.70),
    "bus": (0.30, 2.05),
    "saloon": (0.20, 1.55),
    "tractor": (0.45, 1.60),
    "pickup": (0.26, 1.59),
    "school_bus": (0.30, 1.90),
}

TYPICAL = "typical"

#: Where the sizes above come from, by body, kind of piece or style of fence; all others are `TYPICAL`, and from memory.
_SOURCES: dict[str, str] = {
    "container": "ISO 668, 20 ft container",  # as commonly quoted, from memory
    "cone": "MUTCD sec. 6F.64, 28 in",  # seen
    "kerb": "typical, 125 mm",  # from memory
    "pavement": "typical, 2 m (Manual for Streets, 2007)",  # from memory
    "guard_rail": "AASHTO Roadside Design Guide 2011, 31 in",  # as quoted in engineering notes
    "saloon": "typical",  # as quoted; its source was not seen
    "articulated_lorry": "the most that Council Directive 96/53/EC, annex I, allows",  # from memory
}


def size_source(kind: str) -> str:
    """Where the full size of a body, a kind of piece or a style of fence comes from, for the plan's lists.

    >>> size_source("cone"), size_source("stone")
    ('MUTCD sec. 6F.64, 28 in', 'typical')
    """
    return _SOURCES.get(kind, TYPICAL)
