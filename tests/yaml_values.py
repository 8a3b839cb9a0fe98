"""The values of a scenario text as YAML readers give them: typed, or every scalar a text."""

import datetime as dt

from ruamel.yaml import YAML
from ruamel.yaml.nodes import MappingNode, ScalarNode


def typed(text):
    """Return what a YAML 1.2 reader with types gives, dates as texts: JSON has none."""
    return _json(YAML(typ="safe", pure=True).load(text))


def untyped(text):
    """Return the same with every scalar as the text it is."""
    return _plain(YAML(typ="safe", pure=True).compose(text))


def _json(value):
    if isinstance(value, dict):
        return {str(key): _json(child) for key, child in value.items()}
    if isinstance(value, list):
        return [_json(child) for child in value]
    return value.isoformat() if isinstance(value, dt.date) else value


def _plain(node):
    if node is None or isinstance(node, ScalarNode):
        return node and node.value
    if isinstance(node, MappingNode):
        return {key.value: _plain(child) for key, child in node.value}
    return [_plain(child) for child in node.value]
