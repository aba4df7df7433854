"""The pictures that the README shows, drawn anew: `python tests/benchmarks/pictures.py`.

Each is the middle frame of a scene's first shot, as `previz still` takes it.
"""

import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image

ROOT = Path(__file__).parents[2]

#: Pictures by the scene that they are of.
PICTURES = {
    ROOT / "scenes" / f"{name}.yaml": ROOT / "scenes" / f"{name}.jpg" for name in ("quay_lorry", "country_garage")
}
WIDTH = 1280  # [px]


def main() -> None:
    """Draw them."""
    for scene, picture in PICTURES.items():
        with tempfile.TemporaryDirectory() as folder:
            command = ["still", str(scene), "--size", str(WIDTH), "--out", folder]
            subprocess.run([sys.executable, "-m", "previz", *command], check=True)
            (still,) = Path(folder).iterdir()
            with Image.open(still) as image:
                image.convert("RGB").save(picture, quality=88)
        sys.stdout.write(f"{picture} written\n")


if __name__ == "__main__":
    main()
