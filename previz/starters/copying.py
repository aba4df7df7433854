"""What lies beside a scene and belongs to it."""

from pathlib import Path

from previz.files import load_model, read_files
from previz.scene import Scene, read_scene


def files_of(scene_file: Path) -> list[Path]:
    """Every file that a scene needs, itself first, by its name from the scene's folder.

    That is its kit, sound, images and meshes, and what the meshes refer to. A scene is read for it, and its meshes too.

    Raises
    ------
    PrevizError
        Where the scene, or a mesh of it, cannot be read.
    """
    scene = read_scene(scene_file)
    _, meshes = _named(scene)
    with read_files() as read:
        for name in meshes:
            load_model(scene.folder / name, 1.0)
    folder = scene.folder.resolve()
    parts = [path.relative_to(folder) for path in read]
    return list(dict.fromkeys([Path(scene_file.name), *map(Path, named_files(scene)), *parts]))


def _named(scene: Scene) -> tuple[list[str], list[str]]:
    """The images and meshes that a scene names."""
    holders = [scene.set.ground, scene.set.backdrop, scene.vehicle, *scene.dressing]
    images, meshes = ([getattr(each, key, None) for each in holders] for key in ("image", "mesh"))
    return [name for name in images if name], [name for name in meshes if name]


def named_files(scene: Scene) -> list[str]:
    """The kit, sound, images and meshes that a scene names, as it names them: by where they lie from its folder."""
    images, meshes = _named(scene)
    return [*(each for each in (scene.kit, scene.sound) if each), *images, *meshes]
