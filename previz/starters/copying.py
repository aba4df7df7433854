"""What lies beside a scene and belongs to it."""

from pathlib import Path

from previz.files import load_model, read_files
from previz.scene import Scene, read_scene, setups_of


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
    """The images and meshes that a scene names, on the common set and in what its shots change."""
    scenes = [scene, *(setup.scene for setup in setups_of(scene))]
    driven = [part for each in scenes for part in (each.vehicle, *(each.vehicles or {}).values())]
    holders = [part for each in scenes for part in (each.set.ground, each.set.backdrop, *each.dressing)] + driven
    images, meshes = ([getattr(each, key, None) for each in holders] for key in ("image", "mesh"))
    return [*dict.fromkeys(filter(None, images))], [*dict.fromkeys(filter(None, meshes))]


def named_files(scene: Scene) -> list[str]:
    """The kit, sound, images and meshes that a scene names, as it names them: by where they lie from its folder."""
    images, meshes = _named(scene)
    return [*(each for each in (scene.kit, scene.sound) if each), *images, *meshes]
