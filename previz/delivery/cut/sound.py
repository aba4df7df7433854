"""The sound of a cut: as long as the picture to the sample, from a WAV file, or silent."""

import subprocess
import wave
from fractions import Fraction
from pathlib import Path

from previz.delivery.clip.encoder import ended, ffmpeg_program
from previz.errors import PrevizError

#: What a clip's sound has: samples a second, ears and bytes. Common practice, no source.
SAMPLES, _EARS, _BYTES = 48_000, 2, 2

_AT_ONCE = SAMPLES * _EARS * _BYTES  # read at a time: a second

#: Beyond this a sound is no track of a cut. [s]
_LONGEST = 4 * 3600


def fitted_sound(source: Path | None, seconds: Fraction, path: Path) -> str:
    """Write the sound of a cut that lasts so long to `path`, a WAV; returns in words what was done to it.

    source: a WAV file, which is cut off at the end or followed by silence; None for silence.

    Raises
    ------
    PrevizError
        The source is no WAV file, or holds no sound.
    """
    wanted = round(seconds * SAMPLES)
    found = 0
    with wave.open(str(path), "wb") as out:
        out.setnchannels(_EARS)
        out.setsampwidth(_BYTES)
        out.setframerate(SAMPLES)
        if source is not None:
            found = _copied(source, out, wanted)
        missing = wanted - min(found, wanted)
        out.writeframes(bytes(missing * _EARS * _BYTES))
    if source is None:
        return "silent"
    over = (found - wanted) / SAMPLES
    if found > wanted:
        return f"{source.name}, its last {over:.3f} s left off"
    return f"{source.name}, with {-over:.3f} s of silence after it" if found < wanted else f"{source.name}, as long"


def _copied(source: Path, out: wave.Wave_write, wanted: int) -> int:
    """Copy as much of a sound as is wanted; returns how many samples it has."""
    require_wav(source)
    command = [
        *(ffmpeg_program(), "-hide_banner", "-loglevel", "error", "-nostdin", "-f", "wav", "-i", f"file:{source}"),
        *("-t", str(_LONGEST), "-vn", "-ac", str(_EARS), "-ar", str(SAMPLES), "-f", "s16le", "pipe:1"),
    ]
    program = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    assert program.stdout is not None  # it was started with a pipe
    found = 0
    try:
        while data := program.stdout.read(_AT_ONCE):
            out.writeframes(data[: max(wanted - found, 0) * _EARS * _BYTES])
            found += len(data) // (_EARS * _BYTES)
        failed = program.wait()
    finally:
        program.stdout.close()
        ended(program)
    if failed or not found:
        raise PrevizError(f"{source}: no sound can be read from it; save it once more as WAV")
    return found


def require_wav(source: Path) -> None:
    """Refuse, before any waiting, what does not begin as a WAV file does. Raises PrevizError."""
    try:
        with source.open("rb") as file:
            head = file.read(12)
    except OSError as error:
        raise PrevizError(f"{source}: cannot be read ({(error.strerror or str(error)).lower()})") from error
    if head[:4] not in (b"RIFF", b"RF64") or head[8:] != b"WAVE":
        raise PrevizError(f"{source}: is not a WAV file; save the sound as WAV")
