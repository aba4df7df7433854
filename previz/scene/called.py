"""What people call things in a scene file that are written there by another word.

The very same word in another spelling is taken for it (`TAKEN`), and `previz keys` lists which. Nothing else is read as
if it were right: what is called otherwise (`CALLED`) is refused, with the word that the file has for it.
"""

import re
from collections.abc import Mapping
from functools import cache

#: Other spellings and names that can mean nothing else where they stand, so that they are read as the word they stand
#: for: by what is asked for, as errors name it. A key's hold in every group that has the key and none of that name.
TAKEN: dict[str, dict[str, tuple[str, ...]]] = {
    "a key": {
        "colour": ("color",),
        "centre": ("center",),
        "rate": ("fps",),
        "f_number": ("aperture", "f-number", "f number"),
        "focal_length": ("focal length", "focal-length"),
        "headlamps": ("headlights",),
    },
    "a body": {
        "pickup": ("pickup truck", "pick-up", "pick-up truck"),
        "school_bus": ("schoolbus",),
        "articulated_lorry": ("articulated truck", "artic", "semi-trailer"),
    },
    "a unit for bare lengths": {
        "mm": ("millimetre", "millimetres", "millimeter", "millimeters"),
        "cm": ("centimetre", "centimetres", "centimeter", "centimeters"),
        "m": ("metre", "metres", "meter", "meters"),
        "in": ("inch", "inches"),
        "ft": ("foot", "feet"),
    },
    "a yes or no": {"true": ("yes",), "false": ("no",)},
    "on or off": {"on": ("yes", "true"), "off": ("no", "false")},
    "a side": {"middle": ("center", "centre")},
    "a style of tree": {"fibre": ("fiber",)},
    "a style": {"fibre": ("fiber",)},
    "a kind of piece": {"lamp_post": ("lamppost",)},
    "a style of fence": {"guard_rail": ("guardrail",)},
}

#: By what is asked for, as errors name it: each word of the file with what else it is called. A name may stand with
#: more than one word, and is then told with each. Names are small letters, words in them apart by one space.
CALLED: dict[str, dict[str, tuple[str, ...]]] = {
    "a body": {
        "saloon": ("car", "sedan", "hatchback", "estate", "coupe", "taxi", "cab", "suv", "police car"),
        "van": ("minibus", "minivan", "camper", "ambulance", "delivery van", "transporter", "people carrier", "suv"),
        "lorry": ("truck", "tipper", "fire engine", "tanker", "hgv"),
        "articulated_lorry": (
            "semi", "hgv", "tractor trailer", "semi truck", "eighteen wheeler", "18 wheeler", "big rig", "juggernaut",
            "trailer truck", "articulated", "trailer",
        ),
        "bus": ("coach", "double decker"),
        "tractor": ("farm tractor",),
    },
    "a roof": {
        "gable": (
            "pitched", "gabled", "saddle", "sloped", "sloping", "ridge", "ridged", "tiled", "slate", "hip", "hipped",
            "mansard", "gambrel", "thatched", "steep",
        ),
        "flat": ("level", "terrace", "none", "parapet"),
    },
    "a kind of piece": {
        "broadleaf": ("tree", "oak", "birch", "beech", "maple", "deciduous", "leafy tree"),
        "conifer": ("tree", "fir", "spruce", "pine", "fir tree", "christmas tree"),
        "building": (
            "house", "shop", "factory", "garage", "church", "chapel", "warehouse", "block", "cottage", "villa", "hotel",
            "inn", "school", "town hall",
        ),
        "parked": (
            "car", "vehicle", "van", "lorry", "truck", "bus", "saloon", "tractor", "parked car", "pickup", "school bus",
        ),
        "stone": ("rock", "boulder"),
        "bush": ("shrub",),
        "lamp_post": ("lamp", "street lamp", "streetlight", "street light", "streetlamp", "lantern"),
        "bounce": (
            "reflector", "white card", "foam board", "foamboard", "foam core", "white board", "polystyrene",
            "styrofoam", "bounce card", "bounce board",
        ),
        "flag": ("black card", "cutter"),
        "cone": ("traffic cone", "pylon"),
        "garland": (
            "string of lights", "string lights", "fairy lights", "festoon", "festoon lights", "light chain",
            "chain of lights", "bunting lights", "christmas lights",
        ),
        "sign": ("road sign", "traffic sign"),
        "fence": ("guard rail", "guardrail", "crash barrier", "railing", "barrier"),
        "card": ("cut out", "cutout", "picture", "poster", "person", "figure", "people", "billboard"),
    },
    "something to scatter": {
        "stones": ("rocks", "pebbles", "rubble", "gravel", "boulders"),
        "conifers": ("trees", "firs", "spruces", "pines", "forest", "wood"),
        "broadleaves": ("trees", "oaks", "birches", "forest", "wood"),
        "bushes": ("shrubs", "scrub"),
        "tufts": ("grass", "weeds", "flowers", "reeds", "meadow"),
        "logs": ("timber", "trunks", "branches", "sticks"),
    },
    "a style of tree": {
        "foam": ("sponge", "wire", "clump", "clumps"),
        "fibre": ("teased", "polyfibre", "poly fibre"),
        "brush": ("bottle brush", "bottlebrush", "slender", "poplar"),
    },
    "a style of hedge": {
        "sponge": ("foam",),
        "clipped": ("trimmed", "cut", "square", "neat", "box"),
        "wild": ("overgrown", "grown", "natural", "grown out"),
    },
    "a style": {
        "brush": ("bottle brush", "bottlebrush"),
        "meadow": ("grass",),
        "reeds": ("rushes",),
    },
    "a style of fence": {
        "rails": ("post and rail", "wooden", "wood", "timber", "wire", "rail"),
        "pickets": ("palisade", "garden"),
        "guard_rail": ("crash barrier", "barrier", "steel", "metal"),
    },
    "a style of wall": {
        "brick": ("bricks", "brickwork", "red brick"),
        "stone": ("stones", "rubble", "masonry", "drystone", "dry stone"),
        "plain": ("concrete", "rendered", "render", "plaster", "smooth"),
    },
    "a wall of a house": {
        "brick": ("bricks", "brickwork", "red brick"),
        "plaster": ("rendered", "render", "stucco", "plain", "concrete"),
        "boards": ("wood", "planks", "timber", "weatherboard", "clapboard", "wooden", "plank"),
    },
    "a sign's shape": {
        "disc": ("circle", "round", "circular", "speed limit", "octagon"),
        "triangle": ("triangular", "warning", "give way", "yield"),
        "board": ("rectangle", "rectangular", "panel"),
        "square": ("diamond",),
    },
    "a surface": {
        "asphalt": ("tarmac", "blacktop", "bitumen", "road", "street"),
        "concrete": ("cement", "screed"),
        "cobbles": ("cobblestone", "cobblestones", "setts", "paving", "pavers", "stone"),
        "gravel": ("ballast", "shingle", "pebbles", "chippings", "stones"),
        "earth": ("soil", "dirt", "clay", "ground", "field"),
        "grass": ("lawn", "turf", "meadow", "field", "static grass"),
        "sand": ("dust", "beach", "desert", "desert sand"),
        "mud": ("swamp", "bog"),
        "snow": ("ice",),
        "wood": ("planks", "boards", "timber", "parquet"),
        "plain": ("card", "cardboard", "paper", "paint", "painted", "none"),
    },
    "a colour": {
        "cornsilk": ("cream", "off white", "magnolia"),
        "beige": ("cream", "sand"),
        "darkseagreen": ("grey green", "gray green", "greyish green", "sage"),
        "saddlebrown": ("dark brown", "chestnut", "wood", "mahogany"),
        "brown": ("brick", "brick red", "brick brown"),
        "dimgrey": ("anthracite", "slate", "concrete"),
        "maroon": ("wine red", "burgundy", "bordeaux"),
        "rosybrown": ("grey pink",),
        "peru": ("light brown", "terracotta", "rust"),
        "goldenrod": ("ochre", "mustard"),
    },
    "what drives it": {
        "thread": ("string", "cord", "line", "fishing line", "fishing wire", "wire", "cable", "rope", "yarn", "pulled"),
        "motor": ("engine", "electric", "battery", "remote control", "rc", "radio control"),
        "hand": ("push", "pushed", "finger", "fingers", "by hand"),
    },
    "a time to be sharp": {
        "run": ("whole", "whole run", "always", "all", "all along", "throughout", "whole vehicle", "whole van", "yes"),
        "mid-frame": ("middle", "mid", "mid frame", "in the middle", "centre", "center", "once"),
    },
    "a road's edge": {
        "ragged": ("rough", "soft", "broken", "frayed", "uneven"),
        "ruled": ("straight", "sharp", "clean", "hard", "neat"),
    },
    "a kind of marking": {
        "dashed": ("dashes", "broken", "dotted"),
        "solid": ("line", "continuous"),
        "none": ("no", "off", "plain"),
    },
    "a sky": {
        "overcast": ("cloudy", "grey", "gray", "clouds", "dull"),
        "clear": ("blue", "sunny", "day", "sun"),
        "dusk": ("sunset", "evening", "twilight", "golden hour"),
        "dawn": ("sunrise", "morning"),
        "night": ("dark", "black", "stars"),
        "snow": ("winter", "white"),
    },
    "a layer's shape": {
        "hills": ("hill", "ridge", "rolling"),
        "mountains": ("mountain", "alps", "peaks", "rocks"),
        "trees": ("forest", "wood", "woods", "treeline"),
        "skyline": ("city", "town", "houses", "buildings", "village"),
        "cranes": ("harbour", "harbor", "docks", "port"),
        "flat": ("wall", "plain", "field", "sea"),
    },
    "what a lamp or card is held by": {
        "floor": ("stand", "tripod", "light stand"),
        "table": ("clamp", "stand"),
        "arm": ("clamp",),
        "above": ("boom", "ceiling", "hung", "pole"),
        "nothing": ("none", "hidden"),
    },
    "a unit for bare lengths": {"in": ('"',), "ft": ("'",)},
    "something on this set": {
        "vehicle": (
            "car", "van", "lorry", "articulated lorry", "truck", "bus", "saloon", "tractor", "pickup", "school bus",
            "subject", "auto", "autofocus", "it",
        ),
    },
    # Keys are asked for by the group that they stand in: only those count that it has and that are not given.
    "a key": {
        "output": ("lumens", "lumen", "lm", "flux", "brightness", "power", "lux"),
        "colour": ("kelvin", "temperature", "paint"),
        "nearest": ("minimum focus", "min focus", "closest focus", "closest", "close focus", "near"),
        "widest": ("aperture", "max aperture", "fastest aperture", "f number", "stop", "f stop"),
        "smallest": ("min aperture", "minimum aperture"),
        "modes": ("mode", "video", "video modes", "fps", "records"),
        "f_number": ("stop", "f stop", "fstop", "f"),
        "focal_length": ("focal", "lens", "zoom", "mm"),
        "headlamps": ("headlight", "headlamp", "head lights", "head lamps"),
        "rate": ("frame rate", "framerate"),
        "shutter": ("shutter angle", "shutter speed", "exposure time"),
        "turn": ("rotate", "rotation", "angle", "yaw"),
        "at": ("position", "pos", "place", "location", "where", "from"),
        "aim": ("look at", "target", "to", "direction", "facing"),
        "id": ("name", "called", "label"),
        "floors": ("stories", "storeys", "levels", "storey"),
        "over": ("area", "corners", "region", "within"),
        "count": ("number", "amount", "quantity"),
        "every": ("spacing", "apart", "distance"),
        "reverse": ("direction", "backwards", "reversed"),
        "centre": ("points", "middle", "center line", "centerline", "path", "line"),
        "path": ("route", "way", "track"),
        "body": ("type", "kind", "model"),
        "surface": ("material", "cover", "type", "kind"),
        "wet": ("rain", "rainy", "damp", "wetness", "weather"),
        "style": ("type", "kind", "material"),
        "shape": ("type", "kind"),
        "piece": ("type", "kind", "what"),
        "lane": ("width", "lane width"),
        "duration": ("length", "lasts", "end"),
    },
    "a kind of lamp": {
        "panel": ("softbox", "soft box", "led panel", "led", "video light", "soft light", "window", "skylight"),
        "spot": (
            "sun", "sunlight", "spotlight", "spot light", "torch", "flashlight", "fresnel", "desk lamp", "led",
            "reflector",
        ),
        "bulb": ("lamp", "light", "lightbulb", "light bulb", "candle", "table lamp", "household", "lantern"),
        "ambient": ("room", "sky", "daylight", "sun", "room light", "ceiling"),
    },
}  # fmt: skip

#: What a file has no word for: by what is asked for, its names, the words that come nearest, and what to make of them.
NEAREST: dict[str, tuple[tuple[tuple[str, ...], tuple[str, ...], str], ...]] = {
    "a body": (
        (("motorcycle", "motorbike", "bicycle", "scooter"), ("saloon",), "and is far larger"),
        (("jeep", "off roader"), ("pickup", "saloon"), "in size"),
    ),
    "a kind of marking": (
        (
            (
                "double",
                "double line",
                "double solid",
                "double yellow",
                "double yellow line",
                "double yellow lines",
                "double white",
                "yellow",
                "yellow line",
                "solid yellow",
            ),
            ("solid",),
            "as one line: markings: solid; yellow is paint: gold, which holds for the lines at its sides too, unless "
            "edges: false leaves them out",
        ),
    ),
    "a style of fence": (
        (
            ("chain link", "chainlink", "wire mesh", "mesh", "wire netting"),
            ("rails",),
            "for one sees through it; a mesh of wire is a model of your own, mesh: fence.glb",
        ),
    ),
    "a kind of piece": (
        (
            ("gas station", "petrol station", "filling station", "service station", "fuel station", "gas pump"),
            ("building",),
            "as {piece: building, floors: 1, roof: flat, shop: true}; canopy and pumps are built of piece: wall, or a "
            "model of your own",
        ),
        (
            ("barn", "shed", "hut", "cabin", "stable", "log cabin"),
            ("building",),
            "with floors: 1, roof: gable, walls: boards and windows: no",
        ),
        (
            ("kiosk", "diner", "snack bar"),
            ("building",),
            "with floors: 1, roof: flat and shop: true",
        ),
    ),
}

#: What is no piece but built of pieces, by what people call it: of what, and how.
BUILT = {
    ("bridge", "foot bridge", "footbridge", "overpass", "flyover", "viaduct"): (
        "it is built of walls, two to stand on and one across them, raised by the third number of its at: "
        "{id: pier_front, piece: wall, at: [500 mm, 210 mm], length: 40 mm, height: 120 mm, thickness: 30 mm}, "
        "{id: pier_back, piece: wall, at: [500 mm, 450 mm], length: 40 mm, height: 120 mm, thickness: 30 mm}, "
        "{id: deck, piece: wall, at: [500 mm, 330 mm, 120 mm], length: 280 mm, height: 15 mm, thickness: 40 mm, "
        "turn: 90 deg}"
    ),
    ("arch", "archway", "gate", "gateway", "portal"): (
        "it is built of walls, two to stand on and one across them, raised by the third number of its at, like "
        "at: [500 mm, 330 mm, 120 mm]"
    ),
    ("fountain", "well", "trough", "basin"): (
        "it is built of low walls round its water, "
        "{id: rim_front, piece: wall, at: [500 mm, 300 mm], length: 60 mm, height: 15 mm, thickness: 6 mm} and three "
        "more, or is a model of your own, mesh: fountain.glb"
    ),
}

#: What is no piece but belongs to road, ground or backdrop, by what people call it: its place in a scene file.
OF_THE_SET = {
    "kerb": "set.road.kerb",
    "curb": "set.road.kerb",
    "pavement": "set.road.pavement",
    "sidewalk": "set.road.pavement",
    "puddle": "set.ground.puddles",
    "rain": "set.ground",
    "rainy": "set.ground",
    "wet": "set.ground",
    "weather": "set.ground",
    "water": "set.ground.puddles",
    "road": "set.road",
    "street": "set.road",
    "slope": "vehicle.launch.ramp",
    "gradient": "vehicle.launch.ramp",
    "incline": "vehicle.launch.ramp",
    "uphill": "vehicle.launch.ramp",
    "downhill": "vehicle.launch.ramp",
    "grass": "set.ground",
    "backdrop": "set.backdrop",
    "sky": "set.backdrop.painting",
    "hill": "set.backdrop.painting.layers",
    "mountain": "set.backdrop.painting.layers",
    "skyline": "set.backdrop.painting.layers",
}

#: Of them, what is said of the weather.
WEATHER = frozenset(("rain", "rainy", "wet", "weather"))


def taken_for(name: object, what: str) -> str | None:
    """The word that another spelling of it is read as where `what` is asked for; None of what is none.

    A word of two words, but for keys, may be joined in any way. What YAML reads as true or false is the word so named.

    >>> taken_for("color", "a key"), taken_for("Inches", "a unit for bare lengths"), taken_for("hue", "a key")
    ('colour', 'in', None)
    >>> taken_for("lamp post", "a kind of piece"), taken_for("Articulated_lorry", "a body")
    ('lamp_post', 'articulated_lorry')
    >>> taken_for("yes", "a yes or no"), taken_for(True, "on or off")
    ('true', 'on')
    """
    so = str(name).strip().lower() if isinstance(name, str | bool) else ""
    if what == "a key":
        return next((word for word, names in TAKEN[what].items() if so in names), None)
    return next((word for word in TAKEN.get(what, {}) if so in (word, *spellings(word, what)) and name != word), None)


@cache
def spellings(word: str, what: str) -> tuple[str, ...]:
    """Every other way in which a word may stand where `what` is asked for.

    >>> spellings("lamp_post", "a kind of piece")
    ('lamppost', 'lamp post', 'lamp-post')
    """
    joints = " _-"
    each = (word, *TAKEN.get(what, {}).get(word, ()))
    joined = [re.sub(f"[{joints}]", joint, one) for one in each for joint in joints]
    return tuple(dict.fromkeys(one for one in (*each, *joined) if one != word))


def plainly(name: object) -> str:
    """A name however it is spaced, hyphened and capitalised.

    >>> plainly("Crash-Barrier "), plainly("street_lamp")
    ('crash barrier', 'street lamp')
    """
    return " ".join(str(name)[:60].lower().replace("_", " ").replace("-", " ").split())


def called(name: object, what: str) -> tuple[str, ...]:
    """The words of the file that people mean by a name where `what` is asked for; none where nobody knows.

    >>> called("Pitched", "a roof"), called("SUV", "a body"), called("lorry", "a roof")
    (('gable',), ('saloon', 'van'), ())
    >>> called("terraced house", "a kind of piece"), called("farmhouse", "a kind of piece")
    (('building',), ('building',))
    """
    words: Mapping[str, tuple[str, ...]] = CALLED.get(what, {})
    of_a_thing = what in _THINGS and not nearest(name, what)[0]
    parts = parts_of_name(name) if of_a_thing else (plainly(name),)
    found = (tuple(word for word, names in words.items() if part in names) for part in parts)
    return next(filter(None, found), ()) or tuple(
        word for word, names in words.items() if of_a_thing and _ends_in(name, names)
    )


#: What is asked for by the name of a thing, which may have other words before it.
_THINGS = frozenset({"a kind of piece", "something to scatter", "a body"})


def parts_of_name(name: object) -> tuple[str, ...]:
    """What a name of several words may be known by: all of it, then its last words, then any one.

    >>> parts_of_name("old Street-lamp"), parts_of_name("lamp")
    (('old street lamp', 'street lamp', 'lamp', 'street', 'old'), ('lamp',))
    """
    words = plainly(name).split()
    ends = (" ".join(words[begin:]) for begin in range(len(words)))
    return tuple(dict.fromkeys((*ends, *reversed(words))))


#: Letters of the last part of a word written together, farmhouse, that is taken for one.
_LEAST_LETTERS = 4


def _ends_in(name: object, names: tuple[str, ...]) -> bool:
    return any(len(each) >= _LEAST_LETTERS and plainly(name).endswith(each) for each in names)


def built_of(name: object) -> str:
    """How what is no piece is built of pieces; "" where nobody knows.

    >>> built_of("Foot-bridge")[:20], built_of("wall")
    ('it is built of walls', '')
    """
    return next((how for names, how in BUILT.items() if {*parts_of_name(name)} & {*names}), "")


def nearest(name: object, what: str) -> tuple[tuple[str, ...], str]:
    """The words that come nearest to what a file has none for, and how near; none where nobody knows.

    >>> nearest("Off-roader", "a body"), nearest("lorry", "a body")
    ((('pickup', 'saloon'), 'in size'), ((), ''))
    """
    return next((found[1:] for found in NEAREST.get(what, ()) if plainly(name) in found[0]), ((), ""))
