"""Single values of a scene file's plain data, read on their own: for rules between them, which speak even where some
other value is unreadable."""

from collections.abc import Mapping
from functools import lru_cache
from typing import Annotated, Any

from pydantic import TypeAdapter, ValidationError

from previz.scene.fields import FileUnits, Part


def group_of(found: Any) -> dict[str, Any]:
    """A group as it is; an empty one where something else stands in its place."""
    return found if isinstance(found, dict) else {}


def groups_of(found: Any) -> list[tuple[int, dict[str, Any]]]:
    """The groups of a list that are not empty, with their numbers."""
    return [(number, each) for number, each in enumerate(found if isinstance(found, list) else []) if group_of(each)]


@lru_cache(maxsize=64)
def _reader(part: type[Part], key: str) -> TypeAdapter[Any]:
    field = part.model_fields[key]
    kind: Any = Annotated[field.annotation, *field.metadata] if field.metadata else field.annotation
    return TypeAdapter(kind)


def value_of(part: type[Part], key: str, group: Mapping[str, Any] | Part, file: FileUnits) -> Any:
    """One value of a group, read on its own; None where it is at fault, its default where it is not given."""
    if isinstance(group, Part):
        return getattr(group, key)  # of a kit, read already
    group = part.at_its_scale(group)
    if key not in group:
        field = part.model_fields[key]
        return None if field.is_required() else field.default
    try:
        return _reader(part, key).validate_python(group[key], context=file)
    except ValidationError:
        return None
