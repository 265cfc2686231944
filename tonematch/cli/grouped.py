"""Options that belong together: a dataclass in a command's signature stands for its fields."""

import inspect
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from functools import wraps
from typing import Any, get_type_hints


def grouped(command: Callable[..., None]) -> Callable[..., None]:
    """A command that has one option for each field of every dataclass among its parameters.

    Each field has a default: what may be left out.
    """
    groups: dict[str, Any] = {}
    options: list[inspect.Parameter] = []
    for name, parameter in inspect.signature(command).parameters.items():
        kind = parameter.annotation
        if not is_dataclass(kind):
            options.append(parameter.replace(kind=inspect.Parameter.KEYWORD_ONLY))
            continue
        groups[name] = kind
        hints = get_type_hints(kind, include_extras=True)
        options += [
            inspect.Parameter(
                field.name,
                inspect.Parameter.KEYWORD_ONLY,
                default=field.default,
                annotation=hints[field.name],
            )
            for field in fields(kind)
        ]

    @wraps(command)
    def called(**typed: Any) -> None:
        for name, kind in groups.items():
            typed[name] = kind(**{field.name: typed.pop(field.name) for field in fields(kind)})
        command(**typed)

    called.__signature__ = inspect.Signature(options)  # type: ignore[attr-defined]
    called.__annotations__ = {option.name: option.annotation for option in options}
    return called
