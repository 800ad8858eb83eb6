"""Pages as PDF, by WeasyPrint where it is installed."""

from __future__ import annotations

from solver.errors import OutputError


def check_pdf() -> None:
    """Refuse to make a PDF where what makes it is missing, before anything is computed.

    Raises
    ------
    OutputError
    """
    try:
        import weasyprint  # noqa: F401
    except ImportError as error:
        raise OutputError(
            "--pdf: WeasyPrint is not installed: pip install 'guideproof[pdf]', or print "
            "report.html from a browser"
        ) from error
    except OSError as error:
        # its wheel finds Pango on the system or not at all
        raise OutputError(
            "--pdf: WeasyPrint finds no Pango on this system; on Debian or Ubuntu: apt-get install "
            "libpango-1.0-0 libpangoft2-1.0-0; or print report.html from a browser"
        ) from error


def pdf_bytes(page: str) -> bytes:
    """Return a page as a PDF file on A4.

    Parameters
    ----------
    page : str
        HTML that fetches nothing.

    Raises
    ------
    OutputError
    """
    check_pdf()
    import weasyprint

    return bytes(weasyprint.HTML(string=page).write_pdf())
