"""What the schema lets pass, as strategies of hypothesis: each value by itself, not what one says of another."""

import functools
from typing import Any

from hypothesis import strategies as st

from previz.scene import json_schema

Values = st.SearchStrategy[Any]


@functools.cache
def parts() -> dict[str, Values]:
    """A strategy for each key of a scene file."""
    return {key: values_of(schema) for key, schema in _whole()["properties"].items()}


@functools.cache
def _whole() -> dict[str, Any]:
    return json_schema()


@functools.cache
def _named(name: str) -> Values:
    return st.deferred(lambda: values_of(_whole()["$defs"][name]))


def values_of(schema: dict[str, Any]) -> Values:
    """Values that a schema lets pass, its own examples among them."""
    examples = schema.get("examples")
    if "$ref" in schema:
        found = _named(schema["$ref"].rpartition("/")[2])
    elif "const" in schema or "enum" in schema:
        return st.sampled_from(schema.get("enum", [schema.get("const")]))
    elif "properties" not in schema and (ways := schema.get("anyOf") or schema.get("oneOf")):
        found = st.one_of(*(values_of(each) for each in ways))
    else:
        found = _of_type(schema)
    return st.one_of(st.sampled_from(examples), found) if examples else found


def _of_type(schema: dict[str, Any]) -> Values:
    match schema.get("type"):
        case "integer":
            return st.integers(schema.get("minimum", 0), schema.get("maximum", 1000))
        case "number":
            least, most = schema.get("minimum", -3000.0), schema.get("maximum", 3000.0)
            return st.floats(schema.get("exclusiveMinimum", least), most).map(lambda value: round(value, 3))
        case "boolean":
            return st.booleans()
        case "string":
            pattern = schema.get("pattern")
            return st.from_regex(pattern) if pattern else st.text(max_size=12)
        case "array" if "prefixItems" in schema:
            return st.tuples(*(values_of(each) for each in schema["prefixItems"])).map(list)
        case "array":
            least = schema.get("minItems", 0)
            return st.lists(values_of(schema.get("items", {})), min_size=least, max_size=least + 2)
        case "object":
            return _group(schema)
    return st.none()


def _group(schema: dict[str, Any]) -> Values:
    keys = {key: values_of(each) for key, each in schema.get("properties", {}).items()}
    if not keys:  # under names of one's own
        (each,) = (schema.get("patternProperties") or {"": schema.get("additionalProperties", {})}).values()
        return st.dictionaries(st.sampled_from(["pocket", "phone"]), values_of(each), min_size=1, max_size=2)
    wanted = set(schema.get("required", ()))
    needed = {key: each for key, each in keys.items() if key in wanted}
    return st.fixed_dictionaries(needed, optional={key: each for key, each in keys.items() if key not in wanted})
