"""Everything a cut leaves in its folder: clip, cut lists, contact sheet and page."""

import dataclasses
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from previz.delivery.clip.clip import check_clip, mp4_settings
from previz.delivery.clip.encoder import encode
from previz.delivery.comparison.page import TooLarge
from previz.delivery.cut.contact import deliver_contact_sheet
from previz.delivery.cut.cut_list import ListRow, csv_of, length_of, otio_of, rows_of
from previz.delivery.cut.joining import Joining, Stretch, joined
from previz.delivery.cut.page import Told, deliver_cut_page
from previz.delivery.cut.sound import fitted_sound
from previz.delivery.cut.timecode import Clock
from previz.delivery.files import deliver_files
from previz.delivery.pictures import Picture
from previz.delivery.whole_file import named_faults, whole_file
from previz.physics.flashes import Flashes, flashes_in_a_second
from previz.predictions import Finding, Predictions, flashes_told
from previz.scene import Scene
from previz.scratch import WorkFolder

#: Names of what a cut leaves in its folder; films of the shots lie in a folder of their own.
CUT_NAME, LIST_NAME, TIMELINE_NAME, CONTACT_NAME, SOUND_NAME, CUT_PAGE_NAME, SHOTS_FOLDER = (
    "cut.mp4", "cut.csv", "cut.otio", "contact_sheet.png", "sound.wav", "page.html", "shots",
)  # fmt: skip

#: One frame in so many is encoded on its own, so that a viewer may jump to any shot.
_WHOLE_EVERY = 24


@dataclass(frozen=True)
class CutWritten:
    """What was written.

    Parameters
    ----------
    files : dict
        By clip, list, timeline and contact sheet, and sound where there is one.
    films : tuple of Path
        The shots that play, as they are kept.
    page : Path or TooLarge
    rows : tuple of ListRow
    size : (int, int)
        Of the clip's pictures as joined. [px]
    sound : str
        What is heard, in words.
    flashes : Flashes
        Of the clip's worst second.
    alone : bool
        Whether a shot flashes too much by itself, and not only where they join.
    """

    files: dict[str, Path]
    films: tuple[Path, ...]
    page: Path | TooLarge
    rows: tuple[ListRow, ...]
    size: tuple[int, int]
    sound: str
    flashes: Flashes
    alone: bool

    @property
    def warning(self) -> str | None:
        """More than three flashes in any one second can harm viewers."""
        if not self.flashes.too_many:
            return None
        where = "" if self.alone else ", though no shot of it does by itself: lengthen the shots, or dissolve"
        return f"the cut {flashes_told(self.flashes, where)}"


def deliver_cut(
    folder: Path,
    scene: Scene,
    stretches: Sequence[Stretch],
    clock: Clock,
    predictions: Predictions,
    between: Sequence[Finding] = (),
    *,
    purpose: str,
    sound: Path | None,
    limit: int,
    advance: Callable[[int], None],
) -> CutWritten:
    """Join the stretches into `cut.mp4` and write all that goes with it, each file whole or not at all.

    Parameters
    ----------
    between : sequence of Finding
        What tears shots apart that are cut to each other; the page tells it beside what was predicted.
    purpose : str
        A key of `PURPOSES`: what the clip is for.
    sound : Path or None
        A WAV file; None for silence.
    limit : int
        Largest the page may be. [bytes]
    advance : callable
        Told how many frames are joined.

    Raises
    ------
    PrevizError
        The sound is no WAV file.
    MachineError
        A file cannot be written, or the encoder does not work.
    """
    events = [each.event for each in stretches]
    seen = Joining()
    clip = folder / CUT_NAME
    size, heard = _encoded(clip, stretches, clock.rate, purpose, sound, joined(stretches, seen), advance)
    rows, length = rows_of(events, clock), length_of(events, clock.rate)
    films = {each.event.shot.id: (f"{SHOTS_FOLDER}/{each.kept.path.name}", each.kept.numbers) for each in stretches}
    listed, timeline, contact = folder / LIST_NAME, folder / TIMELINE_NAME, folder / CONTACT_NAME
    heard_file = SOUND_NAME if sound is not None else None
    deliver_files({listed: csv_of(rows), timeline: otio_of(scene.title, events, clock, films, heard_file)})
    deliver_contact_sheet(contact, scene.title, length, rows, seen.stills)
    written = CutWritten(
        {
            "clip": clip,
            "list": listed,
            "timeline": timeline,
            "contact_sheet": contact,
            **({"sound": folder / SOUND_NAME} if sound is not None else {}),
        },
        tuple(dict.fromkeys(each.kept.path for each in stretches)),
        TooLarge(0, 0),
        rows,
        size,
        heard,
        flashes_in_a_second(seen.cells, float(clock.rate)),
        any(_flashes_alone(seen, event.starts, event.ends, clock.rate) for event in events),
    )
    warnings = (written.warning,) if written.warning else ()
    told = Told(scene.title, length, heard, scene.scale, warnings, predictions, tuple(between))
    page = deliver_cut_page(
        folder / CUT_PAGE_NAME, told, rows, seen.stills, clip.read_bytes(), float(clock.rate), limit
    )
    return dataclasses.replace(written, page=page)


def _encoded(
    clip: Path,
    stretches: Sequence[Stretch],
    rate: Fraction,
    purpose: str,
    sound: Path | None,
    pictures: Iterator[Picture],
    advance: Callable[[int], None],
) -> tuple[tuple[int, int], str]:
    """Encode the clip with its sound; returns the size of its pictures and what is heard."""
    first = stretches[0]
    size = first.slate.with_strip(first.kept.size) if first.slate is not None else first.kept.size
    check_clip("mp4", size, rate)
    with WorkFolder() as scratch, whole_file(clip) as part:
        heard = fitted_sound(sound, stretches[-1].event.ends / rate, scratch / "sound.wav")
        settings = [
            *("-i", f"file:{scratch / 'sound.wav'}", "-map", "0:v", "-map", "1:a", "-c:a", "aac", "-b:a", "192k"),
            *mp4_settings(purpose, size, whole_every=_WHOLE_EVERY),
        ]
        encode(_counted(pictures, advance), size, rate, settings, clip, part)
        _leave_sound(clip.with_name(SOUND_NAME), scratch / "sound.wav" if sound is not None else None)
    return size, heard


def _leave_sound(path: Path, fitted: Path | None) -> None:
    """Put the sound that a timeline names beside it, as long as the picture; without one that of an older cut goes."""
    if fitted is not None:
        deliver_files({path: fitted.read_bytes()})
    else:
        with named_faults(path):
            path.unlink(missing_ok=True)


def _counted(pictures: Iterator[Picture], advance: Callable[[int], None]) -> Iterator[Picture]:
    for count, picture in enumerate(pictures, start=1):
        yield picture
        advance(count)


def _flashes_alone(seen: Joining, first: int, end: int, rate: Fraction) -> bool:
    return flashes_in_a_second(seen.cells[first:end], float(rate)).too_many
