"""Plain data as text of a scene file, in whatever order."""

import json
import random
from typing import Any


def shuffled(data: Any, rng: random.Random) -> Any:
    """The same data, keys of groups and members of lists of groups or names in another order."""
    if isinstance(data, dict):
        keys = rng.sample(list(data), len(data))
        return {key: shuffled(data[key], rng) for key in keys}
    if isinstance(data, list) and data and isinstance(data[0], dict | str):
        return [shuffled(each, rng) for each in rng.sample(data, len(data))]
    return data


def flow(data: Any) -> str:
    """As it stands behind a key: JSON is YAML."""
    return json.dumps(data)
