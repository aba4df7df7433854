"""What a scene was read from, kept so that it can be read again with other values in it."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from previz.scene.cameras import Camera
from previz.scene.yaml_tree import Node


@dataclass(frozen=True)
class Written:
    """The file behind a scene. Two scenes of the same keys are the same, whatever lines those stand in.

    Parameters
    ----------
    root : Node
        The whole file, changes written into it.
    kit : mapping of str to Camera
        The cameras of its kit.
    outside_files : bool
        Whether it may name files outside its folder.
    slowdowns : mapping of str to float
        Of one setup: how many times slower than on set all shots of the file play, for speeds as they are to look.
    driving : mapping of str to tuple of str
        Of one setup: by the key of each vehicle that has the common set's speed, all shots of the file that show it so.
    """

    root: Node = field(compare=False, repr=False)
    kit: Mapping[str, Camera] = field(compare=False, repr=False)
    outside_files: bool = field(compare=False)
    slowdowns: Mapping[str, float] = field(default_factory=dict, compare=False, repr=False)
    driving: Mapping[str, tuple[str, ...]] = field(default_factory=dict, compare=False, repr=False)
