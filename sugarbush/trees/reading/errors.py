"""Why a file cannot be read. Each carries a sentence with its next step."""

from sugarbush.trees.reading.words import gettext as _


class CannotRead(ValueError):  # noqa: N818 - named as it is said: the file cannot be read
    """The file, or the rest of it, cannot be read; `code` names why, `sentence` says it to a person."""

    def __init__(self, code: str, **values: str | int) -> None:
        self.code = code
        self.values = values
        super().__init__(code)

    @property
    def sentence(self) -> str:
        """What is wrong and what to do, in the reader's language."""
        return _sentences()[self.code] % self.values

    def __str__(self) -> str:
        return self.sentence


class EmptyFile(CannotRead):
    """Nothing in it."""


class WrongKind(CannotRead):
    """Not a CSV or GeoJSON file."""


class TooLarge(CannotRead):
    """One line, one entry or the heading is larger than any tree file needs."""


class CutShort(CannotRead):
    """The file stops, or stops making sense, before its end; the rows before are good."""


class OtherGrid(CannotRead):
    """Positions are not longitude and latitude of WGS 84."""


def _sentences() -> dict[str, str]:
    return {
        "missing": _("There is no file at this place. Look at the name and try again."),
        "not_open": _("This file could not be opened. Look at who may read it and try again."),
        "empty": _("This file is empty. Save it again where it came from and bring that one."),
        "no_rows": _("This file has a heading but no rows. Save it again where it came from and bring that one."),
        "pdf": _("This is a PDF, a file for printing. Ask for the list as CSV or GeoJSON."),
        "zip": _("This is a spreadsheet workbook or a ZIP file. Open it and save it as CSV, then bring that one."),
        "old_workbook": _("This is a spreadsheet workbook. Open it and save it as CSV, then bring that one."),
        "gzip": _("This file is packed. Unpack it first, then bring the CSV or GeoJSON inside."),
        "shapefile": _("This is one part of a shapefile. Save it as GeoJSON in longitude and latitude (WGS 84)."),
        "picture": _("This is a picture. Bring the list as CSV or GeoJSON."),
        "database": _("This is a database file. Save the table of trees as CSV, then bring that one."),
        "html": _(
            "This is a web page, not a list of trees. The download link may have asked for a sign-in: "
            "open it in a browser, save the CSV, then bring that one."
        ),
        "xml": _("This is an XML file, such as KML. Save it as GeoJSON or CSV, then bring that one."),
        "binary": _("This is not a text file. Bring the list as CSV or GeoJSON."),
        "not_a_table": _(
            "No columns were found in this file. Save the list as CSV with a heading in its first row, "
            "then bring that one."
        ),
        "not_geojson": _(
            "This is JSON, but not a GeoJSON list of places (a FeatureCollection). "
            "Save it as GeoJSON, then bring that one."
        ),
        "lines_as_csv": _("Street lines come as GeoJSON. Save the streets as GeoJSON, then bring that one."),
        "line_too_long": _(
            "Line %(line)d is longer than 1 MB, more than any row of trees. "
            "Look whether the file has one row a line, save it again as CSV and bring that one."
        ),
        "entry_too_long": _(
            "Entry %(row)d is larger than %(limit)d MB, more than any tree or street. "
            "Save the file again and bring that one."
        ),
        "too_many_columns": _(
            "The heading has more than %(limit)d columns. Keep the ones that tell of the tree and save it again as CSV."
        ),
        "cut_short": _(
            "The file stops in the middle, after row %(row)d. It may be half a download: "
            "the rows before were read. Fetch the whole file and bring it again."
        ),
        "broken": _(
            "After row %(row)d the file is no longer GeoJSON. The rows before were read. "
            "Save it again and bring it once more."
        ),
        "other_grid": _(
            "The positions are on another grid (%(grid)s). Save the file in longitude and latitude (WGS 84, EPSG:4326)."
        ),
    }
