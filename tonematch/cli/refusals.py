"""What the parser of the command line refuses, in our words: one sentence, and where to look."""

import typer

from tonematch.cli.printing import by_option

# How the parser's own words begin, and what to ask for in their place.
_NUMBERS = {
    "Input should be a valid number": "a number, with a point for decimals, such as 2.5",
    "Input should be a valid integer": "a whole number, such as 2",
}


def say_refusal(error: Exception) -> str:
    """One sentence for whatever stops a command."""
    if isinstance(error, typer.TyperException):
        return say_usage(error)
    if isinstance(error, MemoryError):
        return (
            "This needs more memory than this machine gives: close other programs, or hand over "
            "a smaller picture, cropped to the card and the gilding."
        )
    if isinstance(error, UnicodeEncodeError):
        return "What was typed holds a character that no text has: type it anew."
    return by_option(one_line(str(error)))


def say_usage(error: typer.TyperException) -> str:
    """What was typed wrong, and whose help tells more."""
    context = getattr(error, "ctx", None)
    command = "tonematch" if context is None else context.command_path
    return f"{_say_fault(error)}: see '{command} --help'."


def one_line(words: str) -> str:
    """One line: what a person typed is quoted in a sentence and may hold line breaks."""
    return " ".join(words.split())


def _say_fault(error: typer.TyperException) -> str:
    if isinstance(error, typer.BadParameter) and error.param is not None:
        name = error.param.opts[0]
        name = name if name.startswith("-") else name.upper()
        if not error.message:
            return f"{name} is missing"
        for start, wanted in _NUMBERS.items():
            if error.message.startswith(start):
                return f"{name} takes {wanted}"
        return f"{name} {one_line(error.message).removeprefix('Value error, ').rstrip('.')}"
    option = getattr(error, "option_name", "")
    near = getattr(error, "possibilities", None)
    if option and near:
        return f"There is no option {one_line(option)} (did you mean {near[0]}?)"
    words = one_line(error.format_message()).rstrip(".")
    fault, _, hint = words.partition(". Did you mean ")
    return f"{fault} (did you mean {hint})" if hint else words
