"""A page from a template of this room: every record and sheet is made here."""

from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

# By these words near its beginning or at its end a record is known, and may be written over.
MARK = b"tonematch record"


def page(template: str, **values: object) -> str:
    """HTML from a template beside this module.

    Parameters
    ----------
    template : str
        File name, such as "record.html.jinja".
    **values
        What the template names; a name left out is an error, and text is escaped.
    """
    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parent),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template(template).render(**values)
