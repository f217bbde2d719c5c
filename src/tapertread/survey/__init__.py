"""What was measured, kept for good: tables and outlines in, one store, every state readable again.

====================  ===========================================================================
module                duty (in the order data flows)
====================  ===========================================================================
``config``            ``survey.toml``: name, units shown, limit sets, the user's own limits
``columns``           the tables, made from the records they fill: columns, units, ranges, keys
``cells``             one cell into one value, strictly
``tables``            one table into records, or all its faults with their places
``book``              all records that hold together
``places``            whether routes can be chained and everything lies on them
``checks``            whether records agree: duplicates, references, shares
``outline_checks``    whether an outline belongs to the survey
``schema``            the tables of the store, and how an older store is brought up to date
``filesystem``        whether a folder is on a disk of this computer
``store``             opening the store, to write or to read
``filing``            an import in the store: the file's bytes, its refusals
``record_filing``     records into the store and out of it
``outline_rows``      outlines as rows: what makes two the same, their bytes, and back again
``outline_filing``    outlines into the store, each measurement once
``report``            what an import did
``importing``         files in, each whole or not at all, nothing twice
``history``           everything known of one asset, of files, of refusals
``view``              a survey as it is read
``building``          a survey from a folder of raw tables
``backup``            a copy of a survey while it is in use
``page``              the documentation's tables of columns, and the published schemas
====================  ===========================================================================

Nothing is overwritten or deleted: what a later import takes the place of stays, marked so.
Reading changes nothing.
"""

from tapertread.survey.backup import back_up
from tapertread.survey.building import build_survey, open_or_build
from tapertread.survey.config import SurveyConfig, read_config
from tapertread.survey.history import Event, StoredFile, StoredRefusal
from tapertread.survey.importing import import_files
from tapertread.survey.report import FileImport, ImportReport
from tapertread.survey.store import has_store
from tapertread.survey.tables import read_table
from tapertread.survey.view import Survey, open_survey

__all__ = [
    "Event",
    "FileImport",
    "ImportReport",
    "StoredFile",
    "StoredRefusal",
    "Survey",
    "SurveyConfig",
    "back_up",
    "build_survey",
    "has_store",
    "import_files",
    "open_or_build",
    "open_survey",
    "read_config",
    "read_table",
]
