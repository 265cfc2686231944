"""Standard output: one JSON object, or lines."""

import json
from collections.abc import Sequence
from typing import Any

import typer


def print_json(value: dict[str, Any]) -> None:
    """One JSON object."""
    typer.echo(json.dumps(value, ensure_ascii=False, allow_nan=False))


def print_warnings(warnings: Sequence[str]) -> None:
    """One line a warning."""
    for warning in warnings:
        typer.echo(f"Note: {warning}")
