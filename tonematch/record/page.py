"""A page from a template of this room, and on paper: every record, sheet and card is made here."""

from io import BytesIO
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from tonematch.errors import LogbookError
from tonematch.logbook.letterhead import HEADING
from tonematch.toning.layers.rule_table import load_job_cautions

# By these words near its beginning or at its end a record is known, and may be written over.
MARK = b"tonematch record"


def page(template: str, **values: object) -> str:
    """HTML from a template beside this module, such as "record.html.jinja".

    A name of the template that `values` leaves out is an error, and text is escaped.
    """
    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parent),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template(template).render(**values)


def cautions_card() -> str:
    """What holds for the whole job, to print on one page of A4 and hang up."""
    return page("cautions.html.jinja", cautions=load_job_cautions())


def pdf_of(html: str) -> bytes:
    """A record's HTML as a PDF on the workshop's paper, with no browser nor font of this machine.

    Raises LogbookError where what lays it out has no build for this kind of machine.
    """
    try:
        import plutoprint
    except ImportError as error:
        raise LogbookError(
            "No PDF can be made on this machine: write the record as HTML, and print that to a PDF "
            "from a browser."
        ) from error
    sizes = {"A4": plutoprint.PAGE_SIZE_A4, "Letter": plutoprint.PAGE_SIZE_LETTER}
    book, file = plutoprint.Book(sizes[HEADING.value().paper]), BytesIO()
    book.load_html(html)
    book.write_to_pdf_stream(file)
    return file.getvalue() + b"%" + MARK + b"\n"
