"""A record as a PDF: the same HTML, laid out without a browser or a font of this machine."""

from io import BytesIO

from tonematch.errors import LogbookError
from tonematch.logbook.letterhead import HEADING
from tonematch.record.page import MARK


def pdf_of(html: str) -> bytes:
    """A record's HTML on the workshop's paper.

    Raises
    ------
    LogbookError
        Where the library that lays it out has no build for this kind of machine.
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
