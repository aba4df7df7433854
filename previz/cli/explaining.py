"""What explains: `previz keys`, `previz schema`, `previz guide`, `previz doctor`."""

from pathlib import Path
from typing import Annotated

import typer

from previz.cli.program import app, examples
from previz.cli.saying import print_json, print_out, say
from previz.errors import PrevizError
from previz.options import (
    AsJson,
    GuideTopic,
    KeyPlace,
)
from previz.telling import (
    key_lines,
    place_lines,
)


@app.command(
    short_help="Say what may be written in a scene file.",
    epilog=examples("previz keys", "previz keys shots.capture"),
)
def keys(place: KeyPlace = None) -> None:
    """Say what may be written in a scene file: the keys, their units, what holds unless they are given, an example.

    Without a PART the parts are listed. A word that several parts have, like height, lists those.
    """
    from previz.scene import Scene, key_groups, key_places, places_named

    if place is None:
        print_out("\n".join(place_lines(key_places())))
        return
    direct = "." in place or place == "scene" or place in Scene.model_fields
    named = () if direct else places_named(place)
    if len(named) < 2:
        print_out("\n".join(key_lines(key_groups(named[0][0] if named else place))))
        return
    print_out(f"{place} may be, the most written first; previz keys with one of them tells its keys:")
    print_out("\n".join(place_lines(named)))


@app.command(
    short_help="Print the schema with which an editor completes a scene file.",
    epilog=examples("previz schema --out scene.schema.json", "previz schema --kit"),
)
def schema(
    out: Annotated[Path | None, typer.Option(metavar="FILE", help="Where to write; printed unless given.")] = None,
    kit: Annotated[bool, typer.Option("--kit", help="That of a kit of cameras instead.")] = False,
) -> None:
    """Print what may be written in a scene file as JSON Schema, for an editor that completes and checks YAML.

    A scene names it in a comment:

    \b
    # yaml-language-server: $schema=scene.schema.json
    """
    from previz.delivery import deliver_files
    from previz.scene import Kit, Scene, schema_text

    text = schema_text(Kit if kit else Scene)
    if out is None:
        print_out(text, end="")
        return
    deliver_files({out: text.encode()})
    say(f"{out} written")


@app.command(
    short_help="Explain a subject on one page: axes, lamps, launch, a first film.",
    epilog=examples("previz guide", "previz guide example"),
)
def guide(topic: GuideTopic = None) -> None:
    """Explain a subject on one page. Without a TOPIC the topics are listed."""
    from previz.guide import TOPICS, guide_page, guide_titles

    if topic is None:
        print_out("\n".join(f"{name:10}{title}" for name, title in guide_titles()))
        say("(previz guide example begins at an empty table)")
        return
    if topic not in TOPICS:
        from previz.scene import choose_from

        raise PrevizError(choose_from(topic, TOPICS, "a topic of the guide"))
    print_out(guide_page(topic), end="")


@app.command(
    short_help="Say what this machine offers and lacks.",
    epilog=examples("previz doctor", "previz doctor --json"),
)
def doctor(as_json: AsJson = False) -> None:
    """Say what this machine offers for rendering and encoding, and what it lacks."""
    from previz.doctor import examine

    checks = examine()
    if as_json:
        print_json({check.name: {"found": check.found, "works": check.works} for check in checks})
    else:
        width = max(len(check.name) for check in checks)
        for check in checks:
            print_out(f"{check.name:{width}}  {'' if check.works else 'LACKS: '}{check.found}")
    if not all(check.works for check in checks):
        raise typer.Exit(1)
