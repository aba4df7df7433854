"""What `previz print` takes from the shell prompt: `python tests/benchmarks/time_of_print.py [runs]`.

The best of several fresh processes for each demo scene; a busy machine only ever makes a time longer.
"""

import sys
import tempfile

from time_of_check import SCENES, fastest


def main() -> None:
    """Measure and tell."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    tell = sys.stdout.write
    tell(f"{'scene':12} {'a4':>7} {'letter':>7} {'poster':>7}   [s], the best of {runs}\n")
    for scene in sorted(SCENES.glob("*.yaml")):
        times = []
        for options in (["--paper", "a4"], ["--paper", "letter"], ["--poster"]):
            with tempfile.TemporaryDirectory() as folder:
                command = [sys.executable, "-m", "previz", "print", str(scene), *options, "--out", folder]
                times.append(fastest(command, runs))
        tell(f"{scene.stem:12} " + " ".join(f"{each:7.2f}" for each in times) + "\n")


if __name__ == "__main__":
    main()
