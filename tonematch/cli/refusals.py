"""What the parser of the command line refuses, in our words: one sentence, and where to look."""

import re
from difflib import get_close_matches

import typer

from tonematch.cli.printing import by_option

NEAR = 0.75  # of two spellings, 1 being the same: --cord is near to --card, --json not to --zone


def say_refusal(error: Exception, command: str) -> str:
    """One sentence for whatever stops a command, which is called so with those above it."""
    if isinstance(error, typer.TyperException):
        return f"{_say_fault(error)}: see '{command} --help'."
    if isinstance(error, MemoryError):
        return (
            "This needs more memory than this machine gives: close other programs, or hand over "
            "a smaller picture, cropped to the card and the gilding."
        )
    if isinstance(error, UnicodeEncodeError):
        return "What was typed holds a character that no text has: type it anew."
    return by_option(one_line(str(error)))


def one_line(words: str) -> str:
    """One line: what a person typed is quoted in a sentence and may hold line breaks."""
    return " ".join(words.split())


def _say_fault(error: typer.TyperException) -> str:
    if isinstance(error, typer.BadParameter) and error.param is not None:
        name = error.param.opts[0]
        name = name if name.startswith("-") else name.upper()
        return f"{name} {_say_wanted(error) if error.message else 'is missing'}"
    option = one_line(getattr(error, "option_name", ""))
    if option and hasattr(error, "possibilities"):
        near = get_close_matches(option, error.possibilities or (), n=1, cutoff=NEAR)
        return f"There is no option {option}{f' (did you mean {near[0]}?)' if near else ''}"
    words = one_line(error.format_message()).rstrip(".")
    if option and words.endswith("requires an argument"):
        return f"{option} needs a value behind it"
    if (more := words.partition("extra argument(s) ")[2]).startswith("("):
        return f"{more[1:-1]} is more than this command takes"
    fault, _, hint = words.partition(". Did you mean ")
    return f"{fault} (did you mean {hint})" if hint else words


def _say_wanted(error: typer.BadParameter) -> str:
    """What was typed, and what is to stand in its place."""
    for fault in getattr(error.__cause__, "errors", list)():  # as the parser's checker found it
        typed = one_line(str(fault["input"])) or "''"
        match fault["type"]:
            case "float_parsing":
                if re.fullmatch(r"-?\d*,\d+", typed):
                    return f"{typed}: write {typed.replace(',', '.')}, with a point"
                return f"{typed}: give a number, such as 2.5"
            case "int_parsing":
                return f"{typed}: give a whole number, such as 2"
            case "greater_than_equal":
                return f"{typed}: give {fault['ctx']['ge']} or more"
            case "less_than_equal":
                return f"{typed}: give {fault['ctx']['le']} or less"
    return one_line(error.message).removeprefix("Value error, ").rstrip(".")
